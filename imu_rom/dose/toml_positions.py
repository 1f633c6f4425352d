"""Where each field stands in a TOML text, so that an error can say line and column; imported only for an error."""

import tomllib

import tree_sitter_toml
from tree_sitter import Language, Node, Parser

from imu_rom.dose.plan_fault import FieldPath

__all__ = ["FieldPlaces"]


def _without_comments(node: Node) -> list[Node]:
    # the grammar hangs a comment at a line's end into the pair on that line
    return [child for child in node.named_children if child.type != "comment"]


class FieldPlaces:
    """Places of all fields of a TOML text.

    Parameters
    ----------
    data : bytes
        A text that is valid TOML, in UTF-8.
    """

    def __init__(self, data: bytes) -> None:
        self._lines = data.split(b"\n")
        # row and byte of each field's name (or table header) and of its value
        self._names: dict[FieldPath, tuple[int, int]] = {}
        self._values: dict[FieldPath, tuple[int, int]] = {}
        self._last_index: dict[FieldPath, int] = {}
        tree = Parser(Language(tree_sitter_toml.language())).parse(data)
        for node in tree.root_node.named_children:
            if node.type in {"table", "table_array_element"}:
                self._read_table(node)
            else:
                self._read_pair(node, ())

    def line_and_column(self, path: FieldPath, *, of_name: bool) -> tuple[int, int]:
        """Place of a field, or of the table in which it is missing.

        Parameters
        ----------
        path : tuple of str and int
            Keys and list indices that lead to the field.
        of_name : bool
            True for the place of its name, False for that of its value.

        Returns
        -------
        tuple of int
            Line and column from 1, columns in characters; the text's start where nothing around it is known.
        """
        first, second = (self._names, self._values) if of_name else (self._values, self._names)
        while path:
            if path in first or path in second:
                row, byte = first[path] if path in first else second[path]
                return row + 1, len(self._lines[row][:byte].decode("utf-8", "replace")) + 1
            path, first, second = path[:-1], self._names, self._values
        return 1, 1

    def _parts(self, node: Node) -> list[str]:
        if node.type == "dotted_key":
            return [part for child in node.named_children for part in self._parts(child)]
        text = (node.text or b"").decode("utf-8", "replace")
        if node.type == "quoted_key":
            return list(tomllib.loads(f"{text} = 0"))
        return [text]

    def _resolved(self, parts: list[str]) -> FieldPath:
        # in a header, a key that names a list of tables stands for its last entry
        path: FieldPath = ()
        for part in parts:
            path = (*path, part)
            if path in self._last_index:
                path = (*path, self._last_index[path])
        return path

    def _read_table(self, node: Node) -> None:
        key, *pairs = _without_comments(node)
        parts = self._parts(key)
        if node.type == "table_array_element":
            listed = (*self._resolved(parts[:-1]), parts[-1])
            self._last_index[listed] = self._last_index.get(listed, -1) + 1
        path = self._resolved(parts)
        # a table that is named only on the way to an inner one has no place of its own
        for length in range(1, len(path) + 1):
            self._names.setdefault(path[:length], node.start_point)
        for pair in pairs:
            self._read_pair(pair, path)

    def _read_pair(self, node: Node, table: FieldPath) -> None:
        if node.type != "pair":
            return
        key, value = _without_comments(node)
        path = table
        for part in self._parts(key):
            path = (*path, part)
            self._names.setdefault(path, key.start_point)
        self._read_value(value, path)

    def _read_value(self, node: Node, path: FieldPath) -> None:
        self._values[path] = node.start_point
        if node.type == "inline_table":
            for child in node.named_children:
                self._read_pair(child, path)
        if node.type == "array":
            for index, entry in enumerate(_without_comments(node)):
                self._read_value(entry, (*path, index))
