"""Hostile texts: a published list, and those that it cannot hold."""

from __future__ import annotations

from naughties.provider import NAUGHTY_LIST

#: The Big List of Naughty Strings as the package `naughties` carries it (MIT).
PUBLISHED: tuple[str, ...] = tuple(str(text) for text in NAUGHTY_LIST)

#: What that list lacks: search syntax of the database, direction marks, NUL, lone surrogates, great lengths.
OWN: tuple[str, ...] = (
    '"', '""', '"""', "'", "*", "a*", "^a", "^", "col:", "title:battery", "-a", "+a", "a -b", "AND", "OR", "NOT",
    "a AND", "a OR OR b", "NOT NOT a", "NEAR", "NEAR(", "NEAR(a b, 9999999999)", "NEAR/99 a", "(a", "a)", "((((((((",
    "{a b}:c", "{a", "a}:b", "rowid:1", "a NEAR b", "; DROP TABLE job; --", "' OR 1=1 --", "%", "_", "\\", "c++", "5%",
    "19,5 V", "19.5V", "a" * 100_000, '"' * 1_000, "a OR " * 2_000, "(" * 5_000, "battery " * 5_000,
    "\x00", "a\x00b", "\x00" * 300, "\ud800", "a\udfffb", "\udc80\ud800", "\ufffe\uffff", "\U0010ffff",
    "\u202e", "\u202edesrever\u202c", "\u2066a\u2069", "\u2069\u202eout", "\u200f\u200e\u061c", "\u200b\u200d\ufeff",
    "\u2028\u2029\x85", "\x1b[31mred\x1b[0m", "\x1b]0;title\x07", "\r\nSet-Cookie: x=y", "a\r\nb\rc\nd",
    "\x0b\x0c\x1c\x1d",
    "👨‍👩‍👧‍👦" * 50, "e\u0301" * 300, "Z" + "\u0300" * 1_000, "ﷺ" * 100, "ß" * 200, "İ" * 100, "ŉ", "ﬀ",
    "=1+1", "+1+1", "-1+1", "@SUM(A1)", "\t=1", "\r=1", "＝1+1", '=HYPERLINK("http://evil.example","x")',
    "</textarea><script>alert(1)</script>", "</title><script>x</script>", "--><script>x</script>", "<svg/onload=x>",
    "javascript:alert(1)", "[x](javascript:alert(1))", "![x](http://evil.example/x.png)", "<!--", "]]>",
    "&lt;b&gt;", "&#0;",
    "{{7*7}}", "{% raw %}", "{0.__class__}", "{words}", "%s%n%x", "%(a)s", "${jndi:x}", "$(reboot)", "`reboot`",
    "|reboot",
    "../../etc/passwd", "..\\..\\x", "/etc/passwd", "file:///etc/passwd", "CON", "nul.txt", "a/b/c", ".", "..", "",
    "9223372036854775808", "-1", "1e999", "nan", "inf", "0x10", "१२", "١٢", "²", "½", "null", "true", "[]", "{}",
)  # fmt: skip

ALL = PUBLISHED + OWN


def sent(text: str) -> bytes:
    """The text as a hostile client would send it: lone surrogates as three bytes that are no UTF-8."""
    return text.encode("utf-8", "surrogatepass")


def kept(text: str) -> str:
    """What the program keeps of a text in a form: NUL becomes U+FFFD, bytes that are no UTF-8 stay percent-encoded.

    The latter is how the web framework reads forms (its error handler `werkzeug.url_quote`).
    """
    return sent(text).decode("utf-8", "werkzeug.url_quote").replace("\x00", "\ufffd")
