"""What is printed: a sheet with a letter for every language, a heading, and numbered pages."""

from collections.abc import Sequence

import font_roboto
from fpdf import FPDF, FontFace

INK, SOFT, PALE = (33, 29, 23), (87, 76, 61), (241, 233, 216)
"""Colours, red, green and blue; they stay apart in black and white print."""

FAMILY = "Roboto"


class Paper(FPDF):
    """An A4 sheet of ours.

    Parameters
    ----------
    title : stands at the head of each page, and in the file's own description
    foot : stands at the foot of each page, before its number
    """

    def __init__(self, title: str, foot: str, *, landscape: bool = False) -> None:
        super().__init__("landscape" if landscape else "portrait", "mm", "A4")
        self.head, self.foot = title, foot
        self.set_title(title)
        self.set_lang("en")
        self.add_font(FAMILY, "", font_roboto.Roboto)
        self.add_font(FAMILY, "B", font_roboto.RobotoBold)
        self.set_margins(16, 16)
        self.set_auto_page_break(True, 18)
        self.set_text_color(*INK)
        self.add_page()

    def header(self) -> None:
        """Write the title on each page."""
        self.set_font(FAMILY, "B", 15)
        self.cell(text=self.head, new_x="LMARGIN", new_y="NEXT")
        self.ln(2)

    def footer(self) -> None:
        """Write foot and page number."""
        self.set_y(-14)
        self.set_font(FAMILY, "", 8)
        self.set_text_color(*SOFT)
        self.cell(text=f"{self.foot} Page {self.page_no()} of {{nb}}.")
        self.set_text_color(*INK)

    def heading(self, text: str) -> None:
        """Begin a part."""
        self.ln(2)
        self.set_font(FAMILY, "B", 11)
        self.cell(text=text, new_x="LMARGIN", new_y="NEXT")
        self.ln(1)

    def words(self, text: str, size: float = 9.5) -> None:
        """Write a paragraph."""
        self.set_font(FAMILY, "", size)
        self.multi_cell(0, text=text, align="L", new_x="LMARGIN", new_y="NEXT")
        self.ln(1)

    def rows(
        self, head: Sequence[str], rows: Sequence[Sequence[str]], widths: Sequence[int]
    ) -> None:
        """Write a table whose head is repeated on each page.

        Parameters
        ----------
        head : words over the columns
        rows : as many cells each
        widths : shares of the line
        """
        self.set_font(FAMILY, "", 9)
        bold = FontFace(emphasis="BOLD", fill_color=PALE)
        align = ("LEFT", *["LEFT"] * (len(head) - 1))
        with self.table(
            col_widths=tuple(widths), headings_style=bold, line_height=5, text_align=align
        ) as table:
            for cells in (head, *rows):
                table.row([*cells])

    def made(self) -> bytes:
        """Close the sheet and answer it as a file."""
        return bytes(self.output())
