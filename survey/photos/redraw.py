"""Opens one picture and draws it anew. Run as a program of its own, with little it may use up.

    python -I redraw.py ORIGINAL PICTURE SMALL

Whatever a hostile file makes of the decoder ends with this process. It prints one JSON line:
{"width": …, "height": …} or {"refused": …}. It imports nothing of this project.
"""

import json
import resource
import sys
import warnings
from io import BytesIO

from PIL import Image, ImageCms, ImageOps

A_MEGABYTE = 1024**2
MEMORY = 1024 * A_MEGABYTE
CPU_SECONDS = 40
MOST_PIXELS = 50_000_000
LARGEST_FILE = 24 * A_MEGABYTE
LARGE, SMALL = 1600, 480
QUALITY = 82


def limit() -> None:
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
    resource.setrlimit(resource.RLIMIT_CPU, (CPU_SECONDS, CPU_SECONDS))
    resource.setrlimit(resource.RLIMIT_FSIZE, (LARGEST_FILE, LARGEST_FILE))
    resource.setrlimit(resource.RLIMIT_NPROC, (0, 0))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


def redraw(original: str, picture: str, small: str) -> tuple[int, int]:
    """Write both copies: upright, in sRGB, on white, without any metadata; return the size."""
    Image.MAX_IMAGE_PIXELS = MOST_PIXELS
    warnings.simplefilter("error", Image.DecompressionBombWarning)
    with Image.open(original, formats=("JPEG", "PNG", "WEBP")) as opened:
        opened.seek(0)  # of a moving picture the first one
        if opened.format == "JPEG":
            opened.draft("RGB", (LARGE, LARGE))  # decodes a big one at a smaller scale at once
        profile = opened.info.get("icc_profile")
        drawn = ImageOps.exif_transpose(opened)
        drawn.load()
    drawn.thumbnail((LARGE, LARGE), Image.Resampling.LANCZOS)
    if drawn.mode in ("RGBA", "LA", "PA") or "transparency" in drawn.info:
        ground = Image.new("RGBA", drawn.size, "white")
        drawn = Image.alpha_composite(ground, drawn.convert("RGBA"))
    plain = _in_srgb(drawn.convert("RGB"), profile)
    clean = Image.new("RGB", plain.size)  # carries over the pixels and nothing else
    clean.paste(plain)
    clean.save(picture, "JPEG", quality=QUALITY, progressive=True, optimize=True)
    size = clean.size
    clean.thumbnail((SMALL, SMALL), Image.Resampling.LANCZOS)
    clean.save(small, "JPEG", quality=QUALITY, optimize=True)
    return size


def _in_srgb(picture: Image.Image, profile: bytes | None) -> Image.Image:
    """Colors as the camera meant them; a profile that cannot be used is left out."""
    if not profile:
        return picture
    try:
        meant = ImageCms.ImageCmsProfile(BytesIO(profile))
        changed = ImageCms.profileToProfile(picture, meant, ImageCms.createProfile("sRGB"))
    except (ImageCms.PyCMSError, OSError, ValueError, TypeError):
        return picture
    return changed or picture


def main() -> None:
    limit()
    try:
        width, height = redraw(*sys.argv[1:4])
        said: dict[str, int | str] = {"width": width, "height": height}
    except MemoryError:
        said = {"refused": "memory"}
    except Exception as trouble:  # noqa: BLE001 - a hostile file may make it raise anything
        said = {"refused": type(trouble).__name__}
    sys.stdout.write(json.dumps(said))


if __name__ == "__main__":
    main()
