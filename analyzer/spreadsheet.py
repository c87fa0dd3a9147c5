"""CSV as spreadsheets write it where the comma is the decimal sign: cells parted by semicolons, `442,5` for 442.5."""


def parted_by(text: str) -> str:
    """What parts the cells: a semicolon where the first line has one and no comma, else a comma."""
    header = text.split("\n", 1)[0]
    return ";" if ";" in header and "," not in header else ","


def pointed(number: str) -> str:
    """`24,50` as `24.50`; what has a dot, or several commas, as it is."""
    return number.replace(",", ".") if number.count(",") == 1 and "." not in number else number
