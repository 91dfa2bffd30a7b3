"""The frets as played, one per string as drawn left to right: ``x32010``."""

from __future__ import annotations

from dataclasses import dataclass

from reader.errors import NotationError

MAX_FRET = 36
MIN_STRINGS, MAX_STRINGS = 1, 12


@dataclass(frozen=True, slots=True)
class Shape:
    """The frets as played.

    Parameters
    ----------
    frets : tuple of int or None
        One per string, leftmost string of an upright diagram first; 0 open,
        None not played.

    Examples
    --------
    >>> Shape.parse("x32010").frets
    (None, 3, 2, 0, 1, 0)
    >>> str(Shape((None, 10, 12, 12, 11, None)))
    'x-10-12-12-11-x'
    """

    frets: tuple[int | None, ...]

    def __post_init__(self) -> None:
        if not MIN_STRINGS <= len(self.frets) <= MAX_STRINGS:
            raise NotationError(
                f"A shape has {MIN_STRINGS} to {MAX_STRINGS} strings, this one has {len(self.frets)}: "
                "give one fret per string, x for a string that is not played."
            )
        for fret in self.frets:
            if fret is not None and not 0 <= fret <= MAX_FRET:
                raise NotationError(f"Fret {fret} is outside 0 to {MAX_FRET}: check the shape.")

    @classmethod
    def parse(cls, text: str) -> Shape:
        """Read the one-line text of a shape.

        Parameters
        ----------
        text : str
            One character per string (``x32010``), or frets joined by dashes
            or spaces when any has two digits (``x-10-12-12-11-x``).

        Raises
        ------
        NotationError
            Naming the first character that does not belong.
        """
        clean = text.strip()
        if not clean:
            raise NotationError("The shape is empty: write one fret per string, as in 0003 or x32010.")
        separated = any(c in clean for c in "- ,")
        parts = clean.replace(",", " ").replace("-", " ").split() if separated else list(clean)
        return cls(tuple(_parse_fret(part, clean) for part in parts))

    def __str__(self) -> str:
        texts = ["x" if fret is None else str(fret) for fret in self.frets]
        return ("-" if any(len(t) > 1 for t in texts) else "").join(texts)

    @property
    def string_count(self) -> int:
        """Number of strings, muted ones included."""
        return len(self.frets)

    @property
    def stopped(self) -> tuple[int, ...]:
        """The frets above 0, in string order."""
        return tuple(f for f in self.frets if f)


def _parse_fret(part: str, whole: str) -> int | None:
    if part in ("x", "X"):
        return None
    if part.isascii() and part.isdigit():
        return int(part)
    bad = next((c for c in part if not (c.isascii() and c.isdigit())), part)
    raise NotationError(
        f"'{bad}' in the shape '{whole}' is not a fret: use digits, x for a string that is not played, "
        "and dashes between frets of two digits."
    )
