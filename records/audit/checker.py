"""Check an export of the log, or one proof, against head notes kept outside.

    python checker.py EXPORT.jsonl HEAD.txt [HEAD.txt ...]
    python checker.py --proof proof.json HEAD.txt

Needs Python and this one file, nothing of the program that wrote the log. Prints one line for
each head and each finding; exits 0 when all is well, 1 when not. A head note is a text of three
lines or more: origin, number of entries, root in base64.

The export holds one entry a line, each line the exact text that was hashed. A leaf is SHA-256 of
a zero byte and the line, a node SHA-256 of a one byte and its two children (RFC 6962). A line
{"leaf":"..."} is an entry that was withheld: only its leaf hash is given. How many there are is said.
"""

from __future__ import annotations

import base64
import hashlib
import json
import re
import sys
from collections.abc import Iterator
from itertools import islice
from typing import Any

MOST_FINDINGS = 100
AT_ONCE = 200  # lines


class Bad(Exception):
    """Something that cannot be read; its text is the finding."""


def read_head(path: str) -> tuple[str, int, bytes]:
    try:
        with open(path, encoding="utf-8") as file:
            origin, size, root, *_more = file.read().splitlines()
        if (
            not (size.isascii() and size.isdigit())
            or len(base64.b64decode(root, validate=True)) != 32
        ):
            raise ValueError
    except (OSError, ValueError):
        raise Bad(f"{path}: not a head note (origin, size, root)") from None
    return origin, int(size), base64.b64decode(root)


def leaf(text: bytes) -> bytes:
    return hashlib.sha256(b"\x00" + text).digest()


def node(left: bytes, right: bytes) -> bytes:
    return hashlib.sha256(b"\x01" + left + right).digest()


def grow(peaks: list[bytes], size: int, last: bytes) -> None:
    """Add a leaf to the roots of the whole subtrees, largest first."""
    while size & 1:
        last = node(peaks.pop(), last)
        size >>= 1
    peaks.append(last)


def root_of(peaks: list[bytes]) -> bytes:
    if not peaks:
        return hashlib.sha256().digest()
    root = peaks[-1]
    for peak in peaks[-2::-1]:
        root = node(peak, root)
    return root


def only_once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    """A JSON object; one that names a key twice could be read in two ways."""
    found = dict(pairs)
    if len(pairs) != len(found):
        raise ValueError("a key stands twice")
    return found


def no_fraction(text: str) -> Any:
    raise ValueError(f"{text} is no whole number")


read_json = json.JSONDecoder(
    object_pairs_hook=only_once, parse_float=no_fraction, parse_constant=no_fraction
).decode
# Quicker: which key stands twice shows in that the line is then not spelt as it must be.
read_quickly = json.JSONDecoder(parse_float=no_fraction, parse_constant=no_fraction).raw_decode
spell = json.JSONEncoder(sort_keys=True, separators=(",", ":"), ensure_ascii=False).encode


def entry_id(text: bytes) -> str:
    """The id in a line that is spelt as it must be, else ``ValueError``."""
    body = read_json(text.decode())
    if spell(body).encode() != text:
        raise ValueError("it is not in canonical form")
    if not isinstance(body, dict) or not isinstance(body.get("id"), str):
        raise ValueError("it has no id")
    return str(body["id"])


def batched(lines: Iterator[bytes], count: int) -> Iterator[list[bytes]]:
    while batch := list(islice(lines, count)):
        yield batch


WITHHELD = re.compile(rb'\{"leaf":"([0-9a-f]{64})"\}')


def own_sha256() -> str:
    """The hash of this file, to be compared with the one printed elsewhere."""
    with open(__file__, "rb") as file:
        return hashlib.sha256(file.read()).hexdigest()


def lines_of(path: str) -> Iterator[bytes]:
    try:
        with open(path, "rb") as file:
            yield from file
    except OSError as error:
        raise Bad(f"{path}: {error.strerror}") from None


def check_export(path: str, head_paths: list[str]) -> Iterator[str]:
    """Findings of an export; the line of a head that holds starts with OK."""
    heads = [(*read_head(each), each) for each in head_paths]
    waiting = sorted(heads, key=lambda head: head[1])
    if len({origin for origin, *_rest in heads}) > 1:
        yield "FAIL heads: they are of different logs"
    peaks: list[bytes] = []
    size = good = withheld = 0
    yield from (judge(head, peaks, good) for head in waiting if head[1] == 0)
    waiting = [head for head in waiting if head[1]]
    for hidden, found, findings in leaves_of(path):
        yield from findings
        withheld += hidden
        grow(peaks, size, found)
        size += 1
        while waiting and waiting[0][1] == size:
            line = judge(waiting.pop(0), peaks, good)
            good = size if line.startswith("OK") else good
            yield line
    if withheld:
        yield f"NOTE {withheld} of {size} entries were withheld; of them only the hash was checked"
    for _origin, count, _root, name in waiting:
        yield f"FAIL {name}: counts {count} entries, the export has {size}: its end was cut off"


def leaves_of(path: str) -> Iterator[tuple[bool, bytes, list[str]]]:
    """Each entry in order: whether it was withheld, its leaf hash, and what is wrong with it.

    A batch of lines is spelt at once, which is quicker. Each was read to its end as one
    object, so that the whole is spelt right only if every line is.
    """
    seen: dict[str, int] = {}
    number = 0
    for raw in batched(lines_of(path), AT_ONCE):
        lines = [line.removesuffix(b"\n") for line in raw]
        hidden = [WITHHELD.fullmatch(line) for line in lines]
        told = [line for line, leaf_hash in zip(lines, hidden, strict=True) if not leaf_hash]
        keys = iter(ids_if_all_well(told) or [""] * len(told))
        for whole, text, leaf_hash in zip(raw, lines, hidden, strict=True):
            cut = [f"FAIL entry {number}: the last line is cut short"] * (whole == text)
            if leaf_hash:
                yield True, bytes.fromhex(leaf_hash[1].decode()), cut
            else:
                key = next(keys)
                if not key or seen.setdefault(key, number) != number:
                    cut += check_line(text, number, seen)
                yield False, leaf(text), cut
            number += 1


def ids_if_all_well(lines: list[bytes]) -> list[str] | None:
    """The ids of entries that are all spelt as they must be; None when one is not."""
    try:
        texts = [line.decode() for line in lines]
        read = [read_quickly(text) for text in texts]
        bodies = [body for body, _end in read]
        if [end for _body, end in read] != [*map(len, texts)] or spell(
            bodies
        ) != f"[{','.join(texts)}]":
            return None
        keys = [body["id"] for body in bodies]
    except (ValueError, RecursionError, KeyError, TypeError):
        return None
    return keys if all(type(key) is str for key in keys) else None


def check_line(text: bytes, number: int, seen: dict[str, int]) -> Iterator[str]:
    try:
        key = entry_id(text)
    except (ValueError, RecursionError) as error:
        yield f"FAIL entry {number}: {error}"
        return
    if seen.setdefault(key, number) != number:
        yield f"FAIL entry {number}: it has the id of entry {seen[key]}"


def judge(head: tuple[str, int, bytes, str], peaks: list[bytes], good: int) -> str:
    origin, size, root, name = head
    if root_of(peaks) == root:
        return f"OK {name}: {size} entries of {origin}"
    return (
        f"FAIL {name}: among entries {good} to {size - 1} something was changed, removed, "
        "inserted or put in another order"
    )


def read_proof(path: str) -> tuple[bytes, int, int, list[bytes], str]:
    try:
        with open(path, encoding="utf-8") as file:
            proof = read_json(file.read())
        if type(proof["index"]) is not int or type(proof["size"]) is not int:
            raise ValueError
        steps = [bytes.fromhex(step) for step in proof["path"]]
        if any(len(step) != 32 for step in steps):
            raise ValueError
        return proof["body"].encode(), proof["index"], proof["size"], steps, str(proof["origin"])
    except (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError):
        raise Bad(f"{path}: not a proof (origin, body, index, size, path)") from None


def check_proof(proof_path: str, head_path: str) -> Iterator[str]:
    """Whether one entry is in the log of the head (RFC 9162, 2.1.3.2)."""
    body, index, size, path, origin = read_proof(proof_path)
    head_origin, head_size, root, _rest = *read_head(head_path), ""
    if origin != head_origin:
        yield f"FAIL {proof_path}: of another log than {head_path}"
    elif size != head_size:
        yield f"FAIL {proof_path}: made for {size} entries, {head_path} counts {head_size}"
    elif not 0 <= index < size:
        yield f"FAIL {proof_path}: there is no entry {index} among {size}"
    elif climbed(leaf(body), index, size, path) != root:
        yield f"FAIL {proof_path}: the text is not entry {index} of the log of {head_path}"
    else:
        yield f"OK {proof_path}: entry {index} of {size} of {origin}"


def climbed(found: bytes, index: int, size: int, path: list[bytes]) -> bytes:
    """The root a path leads to; no bytes when its length does not fit."""
    last = size - 1
    for step in path:
        if last == 0:
            return b""
        if index & 1 or index == last:
            found = node(step, found)
            while index and not index & 1:
                index, last = index >> 1, last >> 1
        else:
            found = node(found, step)
        index, last = index >> 1, last >> 1
    return b"" if last else found


def main(arguments: list[str]) -> int:
    if len(arguments) == 3 and arguments[0] == "--proof":
        lines = check_proof(arguments[1], arguments[2])
    elif len(arguments) >= 2 and not arguments[0].startswith("-"):
        lines = check_export(arguments[0], arguments[1:])
    else:
        print(__doc__)
        return 1
    failed = 0
    try:
        for line in lines:
            failed += line.startswith("FAIL")
            print(line)
            if failed == MOST_FINDINGS:
                print("FAIL more: only the first findings are shown")
                break
    except Bad as bad:
        print(f"FAIL {bad}")
        return 1
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
