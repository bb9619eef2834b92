"""Says the handbook's sentences in the reader's language.

Records hold their texts as written in the data files. In Python: `said(sign.label)`. In a
template: `{% translate sign.label %}`. Both find the translation because `phrasebook` lists
every text in `messages`, where `makemessages` sees it.
"""

from django.utils.translation import gettext_lazy


def said(text: str) -> str:
    """The text in the language of whoever reads it, worked out only when it is shown."""
    spoken: str = gettext_lazy(text)
    return spoken
