"""What a neighbor does, page after page, written once for every test that needs a report."""

from dataclasses import dataclass

from tests.browser.windows import Window
from tests.pictures import picture

JPEG = {"name": "base.jpg", "mimeType": "image/jpeg", "buffer": picture(size=(800, 600))}


@dataclass(frozen=True)
class Sent:
    """What the receipt told: what the report is called, and its private page."""

    name: str
    private: str


def go_on(window: Window) -> None:
    """The one big button at the end of each question."""
    window.page.locator("form .act button.button, form .act-stick button.button").last.click()


def pick_tree(window: Window, site: str, tree: str) -> None:
    """From the first page to the questions about one tree, by its street and its tag."""
    page = window.page
    window.go("/")
    page.get_by_role("link", name="Report a tree").click()
    page.get_by_role("button", name="Nobody is in danger").click()
    page.get_by_role("link", name=site).click()
    page.get_by_role("button", name=f"tag {tree}").click()


def tell(window: Window, *, photo=JPEG, words="The bark is cut near the grass.") -> None:
    """Answer every question about a wound at the base; ends on the page that reads it back."""
    page = window.page
    window.at("What do you see?")
    page.get_by_label("Bark is gone").check()
    go_on(window)
    page.get_by_label("Thin, with big gaps").check()
    go_on(window)
    window.at("How far round does it go?")
    page.get_by_label("Quarter to half").check()
    go_on(window)
    window.at("Three photos help most")
    if photo:
        page.get_by_label("The base of the trunk").set_input_files(photo)
    go_on(window)
    window.at("Anything to add?")
    page.get_by_label("In your own words").fill(words)
    go_on(window)
    window.at("Is this right?")
    read_back = page.inner_text(".checks")
    assert words in read_back
    assert ("Base of the trunk" if photo else "No photos") in read_back


def send(window: Window) -> Sent:
    page = window.page
    page.get_by_role("button", name="Send this report").click()
    window.at("Thank you. We have it.")
    name = page.locator(".plant-label").inner_text()
    private = page.get_by_role("link", name="Follow this report").get_attribute("href")
    return Sent(name, private)
