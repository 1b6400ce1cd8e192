"""The terms of a text: every word in the views in which the search compares it."""

from __future__ import annotations

import json
import zlib
from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import chain

from kb.language.words import Lexicon, Token, tokens
from kb.model import Entry

#: The views of a word: `w` its stem as it stands; `s` the thing it names with the sign of its clause
#: (so that "charges but will not start" differs from "starts but will not charge"); `b` the thing after another.
VIEWS = ("w", "s", "b")
#: How many tenths of a wording each kind of text counts: a cause's name says less about how people speak.
WORDING, SYMPTOM, TITLE, CAUSE = 10, 10, 10, 3


@dataclass(frozen=True, slots=True)
class Content:
    """What texts hold: terms in tenths of a wording, and the words as written."""

    terms: Counter[str]
    words: Counter[str]

    def __add__(self, other: Content) -> Content:
        """Both together."""
        if not other.terms and not other.words:
            return self
        return Content(self.terms + other.terms, self.words + other.words)

    def packed(self) -> bytes:
        """The content in few bytes, the same ones for the same content."""
        return zlib.compress(
            json.dumps([self.terms, self.words], sort_keys=True).encode(), level=1
        )

    @staticmethod
    def unpacked(packed: bytes) -> Content:
        """What `packed` made bytes of; raises zlib.error for others.

        >>> held = Content(Counter({"w:charg": 10}), Counter({"charges": 1}))
        >>> Content.unpacked(held.packed()) == held
        True
        """
        terms, words = json.loads(zlib.decompress(packed))
        return Content(Counter(terms), Counter(words))


NOTHING = Content(Counter(), Counter())


def count(texts: Iterable[tuple[str, float]], lexicon: Lexicon) -> Content:
    """The terms and words of texts, each text with the tenths it counts."""
    alike: defaultdict[float, list[str]] = defaultdict(list)
    words: list[str] = []
    for text, tenths in texts:
        found = tokens(text, lexicon)
        words += [token.typed for token in found]
        alike[tenths] += chain.from_iterable(by_token(found, lexicon))
    counted: Counter[str] = Counter()
    for tenths, held in alike.items():
        for term, times in Counter(held).items():
            counted[term] += tenths * times  # type: ignore[assignment]
    return Content(counted, Counter(words))


def texts_of(entry: Entry) -> Iterable[tuple[str, int]]:
    """The texts of an entry that the search feeds on, each with the tenths it counts."""
    yield entry.title, TITLE
    for text in entry.symptoms:
        yield text, SYMPTOM
    for text in entry.wordings:
        yield text, WORDING
    for cause in entry.causes:
        yield cause.text, CAUSE


def by_token(found: Sequence[Token], lexicon: Lexicon) -> list[list[str]]:
    """For each token its terms.

    >>> from kb.language.words import common_words, read_lexicon
    >>> lexicon = read_lexicon(*common_words())
    >>> by_token(tokens("beeps, won't start", lexicon), lexicon)[0]
    ['w:beep', 's:BEEP+']
    >>> by_token(tokens("beeps, won't start", lexicon), lexicon)[-1]
    ['w:start', 's:START-', 'b:not START']
    """
    result = []
    before = ""
    for token in found:
        terms = ["w:" + token.stem]
        thing = thing_of(token, lexicon)
        if thing:
            terms += (
                [f"s:{thing}{sign_of(token)}"]
                if token.typed not in lexicon.negative
                else []
            )
            terms += (
                [well(thing)]
                if token.well and token.typed not in lexicon.positive
                else []
            )
            terms += [f"b:{before} {thing}"] if before else []
            before = thing
        result.append(terms)
    return result


def thing_of(token: Token, lexicon: Lexicon) -> str:
    """The trade's word for a token, else its stem; empty for words that tell nothing."""
    return "" if token.typed in lexicon.noise else token.concept or token.stem


def is_trade_word(term: str) -> bool:
    """Whether a signed term names a concept of the trade, which stands in capitals, and not just a stem.

    >>> is_trade_word("s:CHARGE+"), is_trade_word("s:3G-"), is_trade_word("s:react+")
    (True, True, False)
    """
    thing = term[2:-1]
    return thing != thing.lower()


def signed(thing: str) -> tuple[str, str]:
    """The terms of a thing under either sign, the one of what works first.

    >>> signed("CHARGE")
    ('s:CHARGE+', 's:CHARGE-')
    """
    return f"s:{thing}+", f"s:{thing}-"


def well(thing: str) -> str:
    """The term of a thing of which it is said that it is well.

    >>> well("FAN")
    'h:FAN'
    """
    return f"h:{thing}"


def sign_of(token: Token) -> str:
    """`-` in a clause that says something fails, else `+`."""
    return "-" if token.negative else "+"
