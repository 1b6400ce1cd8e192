"""The terms of a text: every word in the views in which the search compares it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence

from kb.model import Entry
from kb.words import Lexicon, Token, tokens

#: The views of a word: `w` its stem as it stands; `s` the thing it names with the sign of its clause
#: (so that "charges but will not start" differs from "starts but will not charge"); `b` the thing after another.
VIEWS = ("w", "s", "b")
#: How many tenths of a wording each kind of text counts: a cause's name says less about how people speak.
WORDING, SYMPTOM, TITLE, CAUSE = 10, 10, 10, 3


def of_entry(entry: Entry, lexicon: Lexicon) -> Counter[str]:
    """The terms of an entry's own texts, counted in tenths."""
    counts: Counter[str] = Counter()
    for text, tenths in texts_of(entry):
        for term in of_text(text, lexicon):
            counts[term] += tenths
    return counts


def texts_of(entry: Entry) -> Iterable[tuple[str, int]]:
    """The texts of an entry that the search feeds on, each with the tenths it counts."""
    yield entry.title, TITLE
    for text in entry.symptoms:
        yield text, SYMPTOM
    for text in entry.wordings:
        yield text, WORDING
    for cause in entry.causes:
        yield cause.text, CAUSE


def of_text(text: str, lexicon: Lexicon) -> list[str]:
    """The terms of a text in every view, in the order of its words."""
    return [term for terms in by_token(tokens(text, lexicon), lexicon) for term in terms]


def by_token(found: Sequence[Token], lexicon: Lexicon) -> list[list[str]]:
    """For each token its terms.

    >>> from kb.words import read_lexicon, stock_words
    >>> lexicon = read_lexicon(stock_words())
    >>> by_token(tokens("charges, won't start", lexicon), lexicon)[0]
    ['w:charg', 's:CHARGE+']
    >>> by_token(tokens("charges, won't start", lexicon), lexicon)[-1]
    ['w:start', 's:START-', 'b:CHARGE START']
    """
    result = []
    before = ""
    for token in found:
        terms = ["w:" + token.stem]
        thing = thing_of(token, lexicon)
        if thing:
            terms += [f"s:{thing}{sign_of(token)}"] if token.typed not in lexicon.negative else []
            terms += [f"b:{before} {thing}"] if before else []
            before = thing
        result.append(terms)
    return result


def thing_of(token: Token, lexicon: Lexicon) -> str:
    """The trade's word for a token, else its stem; empty for words that tell nothing."""
    return "" if token.typed in lexicon.noise else token.concept or token.stem


def sign_of(token: Token) -> str:
    """`-` in a clause that says something fails, else `+`."""
    return "-" if token.negative else "+"
