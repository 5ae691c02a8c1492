"""What may be chosen about a web folder of tunes.

Public: `SiteSettings`, `NoSuchDownload`.
"""

from __future__ import annotations

from dataclasses import dataclass

from reedwright.errors import ReedwrightError

DOWNLOADS = ("abc", "musicxml", "midi", "pdf")
USUAL_DOWNLOADS = DOWNLOADS[:3]  # a page can be printed from the browser, too


class NoSuchDownload(ReedwrightError):
    """A kind of file that is not offered."""


@dataclass(frozen=True, slots=True)
class SiteSettings:
    """`slow`: percent of the tempo of the slow track; 100 for none. `sound`: whether there is sound
    at all. `downloads`: of abc, musicxml, midi and pdf, for tunes that are not sold. `shop`: what
    is said where the rest of a sold tune can be had; `shop_address` a link there.
    """

    slow: int = 60
    sound: bool = True
    downloads: tuple[str, ...] = USUAL_DOWNLOADS
    shop: str = "This is the first part. The whole tune comes with the book."
    shop_address: str = ""

    def __post_init__(self) -> None:
        unknown = [each for each in self.downloads if each not in DOWNLOADS]
        if unknown:
            raise NoSuchDownload(f"Download '{unknown[0]}': choose of {', '.join(DOWNLOADS)}.")
        if not 10 <= self.slow <= 100:
            raise ReedwrightError(f"Slow track at {self.slow} %: give 10 to 100.")
        if self.shop_address and not self.shop_address.startswith(("https://", "http://")):
            raise ReedwrightError(
                f"Shop address '{self.shop_address}': give one that begins with https://."
            )
