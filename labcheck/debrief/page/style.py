"""How the page looks: one style for screen and paper. Shape, word and position carry meaning; colour only helps.

Every colour of text reaches 4.5 to 1 on white and on the pale fills it stands on; a test computes it.
"""

from __future__ import annotations

import base64
import hashlib

INK = "#1c1f23"
QUIET = "#50565e"
STRONG = "#0a4a7d"
WARN = "#8a3200"
TEXT_COLOURS = {"ink": INK, "quiet": QUIET, "strong": STRONG, "warn": WARN}

PAPER = "#ffffff"
BAR = "#dfe7ee"
BAR_OTHER = "#efe6dc"
LANE = "#f6f7f8"
FILLS = {"paper": PAPER, "bar": BAR, "bar_other": BAR_OTHER, "lane": LANE}

LINE = "#8b929a"
"""Leaders, axes and frames: 3 to 1 on white, which is what a shape needs."""

CSS = f"""
@page {{ margin: 12mm 12mm 14mm 12mm; }}
* {{ box-sizing: border-box; }}
body {{ font: 10.5pt/1.4 "Noto Sans", "DejaVu Sans", Verdana, sans-serif; color: {INK}; background: {PAPER};
  margin: 0 auto; padding: 6mm; max-width: 280mm; }}
h1 {{ font-size: 19pt; margin: 0 0 1mm; letter-spacing: .02em; }}
h2 {{ font-size: 13pt; margin: 8mm 0 2mm; padding-top: 1.5mm; border-top: 2px solid {INK};
  break-after: avoid; }}
h3 {{ font-size: 10.5pt; margin: 4mm 0 1mm; break-after: avoid; }}
.part {{ font-size: 12pt; margin-top: 6mm; padding-top: 1mm; border-top: 1px solid {LINE}; }}
h4 {{ font-size: 10.5pt; font-weight: 700; margin: 2mm 0 1mm; break-after: avoid; }}
p {{ margin: 0 0 2mm; max-width: 190mm; }}
.rehearsal {{ display: inline-block; background: {INK}; color: {PAPER}; padding: 1mm 4mm; font-weight: 700;
  print-color-adjust: exact; -webkit-print-color-adjust: exact; }}
.caution {{ border: 1px solid {INK}; border-left-width: 6px; padding: 2mm 3mm; }}
.quiet, .none, figcaption, caption {{ color: {QUIET}; }}
.warn {{ color: {WARN}; font-weight: 700; }}
table {{ border-collapse: collapse; width: 100%; margin: 0 0 3mm; font-variant-numeric: tabular-nums; }}
caption {{ text-align: left; padding: 1mm 0; }}
th, td {{ text-align: left; vertical-align: top; padding: .8mm 2.5mm .8mm 0; border-bottom: 1px solid #c9ced4;
  font-weight: 400; overflow-wrap: break-word; }}
thead th {{ color: {QUIET}; border-bottom: 1.5px solid {INK}; }}
tbody th {{ white-space: nowrap; }}
.wrap tbody th {{ white-space: normal; width: 26%; }}
.time {{ white-space: nowrap; }}
.long th, .long td {{ padding-top: .3mm; padding-bottom: .3mm; font-size: 90%; }}
.dense th, .dense td {{ font-size: 78%; padding-right: 1.5mm; }}
.half {{ max-width: 120mm; }}
.together {{ break-inside: avoid; }}
tr {{ break-inside: avoid; }}
thead {{ display: table-header-group; }}
ul {{ margin: 0 0 2mm; padding-left: 5mm; }}
li {{ margin: 0 0 .6mm; overflow-wrap: break-word; }}
svg.chart {{ width: 100%; height: auto; display: block; }}
svg.strip {{ width: 44mm; height: 6mm; display: block; }}
svg text {{ font-family: "Noto Sans", "DejaVu Sans", Verdana, sans-serif; fill: {INK}; }}
svg .quiet {{ fill: {QUIET}; }}
svg .strong {{ fill: {STRONG}; font-weight: 700; }}
svg .warn {{ fill: {WARN}; font-weight: 700; }}
svg .on-ink {{ fill: {PAPER}; }}
figure {{ margin: 0 0 4mm; break-inside: avoid; }}
.pair {{ display: grid; grid-template-columns: 1fr 1fr; gap: 4mm 6mm; }}
.blank th, .blank td {{ height: 9mm; border-bottom: 1px solid {INK}; }}
.write p {{ border-bottom: 1px solid {INK}; height: 9mm; margin: 0; max-width: none; }}
.digest {{ font-family: "DejaVu Sans Mono", monospace; overflow-wrap: anywhere; }}
@media print {{ .fresh {{ break-before: page; }} body {{ padding: 0; max-width: none; font-size: 9pt; }} }}
@media screen and (max-width: 700px) {{ .pair {{ grid-template-columns: 1fr; }} }}
"""


def policy() -> str:
    """The page's content security policy: nothing from anywhere, and this one style."""
    digest = base64.b64encode(hashlib.sha256(CSS.encode()).digest()).decode()
    return f"default-src 'none'; style-src 'sha256-{digest}'; base-uri 'none'; form-action 'none'"
