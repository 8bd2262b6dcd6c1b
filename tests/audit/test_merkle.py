"""The tree against published roots and proofs, and proofs that must be refused.

Roots of sizes 0 to 8 and the proofs: test data of the certificate-transparency project and of
github.com/transparency-dev/merkle (testdata, commit 417fb0c), for the eight leaves below.
"""

from __future__ import annotations

import hashlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from records.audit import checker, merkle

DATA = [bytes.fromhex(each) for each in (
    "", "00", "10", "2021", "3031", "40414243", "5051525354555657",
    "606162636465666768696a6b6c6d6e6f",
)]  # fmt: skip
LEAVES = [merkle.leaf_hash(each) for each in DATA]
ROOTS = [
    "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855",
    "6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d",
    "fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125",
    "aeb6bcfe274b70a14fb067a5e5578264db0fa9b51af5e0ba159158f329e06e77",
    "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
    "4e3bbb1f7b478dcfe71fb631631519a3bca12c9aefca1612bfce4c13a86264d4",
    "76e67dadbcdf1e10e1b74ddc608abd2f98dfb16fbce75277b5232a127f2087ef",
    "ddb89be403809e325750d3d263cd78929c2942b7942a34b77e122c9594a74c8c",
    "5dc9da79a70659a9ad559cb701ded9a2ab9d823aad2f4960cfe370eff4604328",
]
N01 = "5f083f0a1a33ca076a95279832580db3e0ef4584bdff1f54c8a360f50de3031e"
N47 = "6b47aaf29ee3c2af9af889bc1fb9254dabd31177f16232dd6aab035ca39bf6e4"
N67 = "ca854ea128ed050b41b35ffc1b87b8eb2bde461e9e3b5596ece6b9d5975a0ae0"
L1 = "96a296d224f285c67bee93c30f8a309157f0daa35dc5b87e410b78630a09cfc7"
L4 = "bc1a0643b12e4d2d7c77918f44e0f4f79a838b6cf9ec5b5c283e1f4d88599e6b"
N45 = "0ebc5d3437fbe2db158b9f126a1d118e308181031d0a949f8dededebc558ef6a"


def stored_over(leaves):
    """What the database keeps, worked out from scratch."""

    def stored(level, first, count):
        width = 256**level
        assert first // 256 == (first + count - 1) // 256, "no read crosses a tile"
        return [
            merkle.root_of(leaves[at * width : (at + 1) * width])
            for at in range(first, first + count)
        ]

    return stored


def in_hex(path):
    return [step.hex() for step in path]


@pytest.mark.parametrize("size", range(9))
def test_roots_are_the_published_ones(size):
    assert merkle.root_of(LEAVES[:size]).hex() == ROOTS[size]
    tree, peaks, theirs = merkle.GrowingTree(), [], []
    for at, leaf in enumerate(LEAVES[:size]):
        tree.add(leaf)
        peaks = merkle.added(peaks, at, leaf)
        checker.grow(theirs, at, checker.leaf(DATA[at]))
    assert tree.root.hex() == merkle.root_of_frontier(peaks).hex() == ROOTS[size]
    assert checker.root_of(theirs).hex() == ROOTS[size]
    assert tree.peaks == peaks == theirs


@pytest.mark.parametrize(
    ("index", "size", "path"), [(0, 8, [L1, N01, N47]), (5, 8, [L4, N67, ROOTS[4]])]
)
def test_inclusion_proofs_are_the_published_ones(index, size, path):
    assert in_hex(merkle.inclusion_path(stored_over(LEAVES), index, size)) == path


@pytest.mark.parametrize(
    ("old", "size", "path"),
    [(1, 8, [L1, N01, N47]), (6, 8, [N45, N67, ROOTS[4]]), (2, 5, [N01, L4]), (4, 4, [])],
)
def test_consistency_proofs_are_the_published_ones(old, size, path):
    assert in_hex(merkle.consistency_path(stored_over(LEAVES), old, size)) == path


NIST = [  # FIPS 180-4 examples as NIST publishes them
    (b"", "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"),
    (b"abc", "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"),
    (b"abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq",
     "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1"),
]  # fmt: skip


@pytest.mark.parametrize(("data", "digest"), NIST)
def test_the_hash_beneath_is_sha_256(data, digest):
    assert hashlib.sha256(data).hexdigest() == digest


def test_a_leaf_over_two_hashes_is_not_the_node_over_them():
    left, right = LEAVES[:2]
    assert merkle.leaf_hash(left + right) != merkle.node_hash(left, right)


SIZES = st.integers(1, 700)  # past the edge of two tiles


@st.composite
def trees(draw):
    size = draw(SIZES)
    leaves = [merkle.leaf_hash(str(number).encode()) for number in range(size)]
    return leaves, draw(st.integers(0, size - 1))


def spoiled(path, data):
    """A path that is one bit, one step, or one place off."""
    kinds = ["longer"] + ["shorter", "flipped"] * bool(path)
    kind = data.draw(st.sampled_from(kinds))
    if kind == "longer":
        return [*path, merkle.EMPTY_ROOT]
    at = data.draw(st.integers(0, len(path) - 1))
    if kind == "shorter":
        return path[:at] + path[at + 1 :]
    wrong = bytearray(path[at])
    wrong[data.draw(st.integers(0, 31))] ^= 1 << data.draw(st.integers(0, 7))
    return [*path[:at], bytes(wrong), *path[at + 1 :]]


@given(trees(), st.data())
def test_an_inclusion_proof_holds_and_a_tampered_one_does_not(tree, data):
    leaves, index = tree
    size, root = len(leaves), merkle.root_of(leaves)
    path = merkle.inclusion_path(stored_over(leaves), index, size)
    assert merkle.includes(leaves[index], index, size, path, root)
    assert checker.climbed(leaves[index], index, size, path) == root
    wrong = spoiled(path, data)
    assert not merkle.includes(leaves[index], index, size, wrong, root)
    assert checker.climbed(leaves[index], index, size, wrong) != root
    assert not merkle.includes(leaves[index - 1], index, size, path, root) or size == 1
    assert not merkle.includes(leaves[index], index, size, path, merkle.EMPTY_ROOT)


@given(trees(), st.data())
def test_a_consistency_proof_holds_and_a_tampered_one_does_not(tree, data):
    leaves, index = tree
    old, size, root = index + 1, len(leaves), merkle.root_of(leaves)
    old_root = merkle.root_of(leaves[:old])
    path = merkle.consistency_path(stored_over(leaves), old, size)
    assert merkle.is_consistent(old, old_root, size, root, path)
    assert not merkle.is_consistent(old, old_root, size, root, spoiled(path, data))
    assert not merkle.is_consistent(old, merkle.EMPTY_ROOT, size, root, path)
    assert not merkle.is_consistent(old, old_root, size, merkle.EMPTY_ROOT, path)
    if old < size:
        assert not merkle.is_consistent(old, root, size, old_root, path)


@pytest.mark.parametrize("size", [1, 2, 3, 7, 8, 255, 256, 257, 511, 513])
def test_proofs_at_the_edges_of_tiles(size):
    leaves = [merkle.leaf_hash(str(number).encode()) for number in range(size)]
    stored, root = stored_over(leaves), merkle.root_of(leaves)
    for at in range(size):
        path = merkle.inclusion_path(stored, at, size)
        assert merkle.includes(leaves[at], at, size, path, root)
        assert not merkle.includes(leaves[at], (at + 1) % size, size, path, root) or size == 1
        old_path = merkle.consistency_path(stored, at + 1, size)
        assert merkle.is_consistent(at + 1, merkle.root_of(leaves[: at + 1]), size, root, old_path)


def test_what_the_reference_tests_refuse_is_refused():
    """The cases of inclusion/additional and consistency/additional of the same test data."""
    root, leaf = merkle.root_of(LEAVES), LEAVES[0]
    assert not merkle.includes(leaf, 0, 0, [], root)
    assert not merkle.includes(leaf, 8, 8, [], root)
    assert not merkle.includes(leaf, 9, 8, [], root)
    assert not merkle.is_consistent(8, root, 4, root, [])
    assert not merkle.is_consistent(0, merkle.EMPTY_ROOT, 8, root, [])
    assert not merkle.is_consistent(8, root, 8, root, [leaf])
    assert not merkle.is_consistent(8, root, 8, merkle.EMPTY_ROOT, [])
    for index, size in ((8, 8), (-1, 8), (0, 0)):
        with pytest.raises(ValueError, match="no entry"):
            merkle.inclusion_path(stored_over(LEAVES), index, size)
    for old, size in ((0, 8), (9, 8)):
        with pytest.raises(ValueError, match="no beginning"):
            merkle.consistency_path(stored_over(LEAVES), old, size)


@given(SIZES)
def test_a_tree_fed_leaf_by_leaf_fills_each_tile_once(size):
    leaves = [merkle.leaf_hash(str(number).encode()) for number in range(size)]
    tree = merkle.GrowingTree()
    full = [tile for leaf in leaves for tile in tree.add(leaf)]
    assert [(tile.level, tile.index) for tile in full] == [(0, at) for at in range(size // 256)]
    assert b"".join(tile.data for tile in full) == b"".join(leaves[: size // 256 * 256])
    assert tree.root == merkle.root_of(leaves)


def test_tiles_of_the_second_level_hold_the_roots_of_the_first():
    leaves = [merkle.leaf_hash(number.to_bytes(4)) for number in range(65536 + 300)]
    tree = merkle.GrowingTree()
    full = [tile for leaf in leaves for tile in tree.add(leaf)]
    (above,) = (tile for tile in full if tile.level == 1)
    assert above.data == b"".join(tile.root for tile in full if tile.level == 0)[: 256 * 32]
    assert above.root == merkle.root_of(leaves[:65536])
    assert tree.root == merkle.root_of(leaves)
