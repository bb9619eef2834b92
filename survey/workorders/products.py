"""Whether a product is sold against something that lives: then it is a pesticide in law.

The words below are an own list of this project. They err on the side of asking: somebody reads the
label either way.
"""

import re
import unicodedata

AGAINST = re.compile(
    r"""\b(
      repel\w* | deterrent\w* | keep[ -]?off | keep[ -]?away
    | insecticid\w* | pesticid\w* | fungicid\w* | herbicid\w* | miticid\w* | rodenticid\w*
    | \w+icide | biocid\w*
    | (bug|ant|aphid|borer|tick|wasp|weed|mouse|mice|rat|vole|rabbit|deer|gopher|mole|moth|beetle
       |insect|rodent|slug|snail|fungus|moss|stump|dog|cat)s?
      [ -]?(kill|bait|poison|control|spray|stop|guard|proof|shield|away|be[ ]gone|off)\w*
    | anti[ -]?(bug|ant|insect|rodent|borer|pest|weed|fung)\w*
    | (kills?|against|stops|keeps[ ]off|repels?)[ ](\w+[ ]){0,2}
      (bugs?|ants?|aphids?|borers?|ticks?|wasps?|weeds?|mice|mouse|rats?|voles?|rabbits?|deer|gophers?
       |moles?|moths?|beetles?|insects?|rodents?|slugs?|snails?|fung\w+|moss|pests?|dogs?|cats?)
    | bait | poison | weed[ ]and[ ]feed | neem | pyrethr\w* | permethrin | carbaryl | imidacloprid
    | dinotefuran | glyphosate | capsaicin | thiram
    | repelente\w* | insecticida\w* | plaguicida\w* | fungicida\w* | herbicida\w* | raticida\w*
    | mata[ -]?\w+ | veneno\w* | cebo\w*
    )\b""",
    re.IGNORECASE | re.VERBOSE,
)


def sold_against_pests(words: str) -> bool:
    """Whether the name or label of a product says that it repels or kills something alive."""
    plain = unicodedata.normalize("NFKC", words)
    return AGAINST.search(" ".join(plain.split())) is not None
