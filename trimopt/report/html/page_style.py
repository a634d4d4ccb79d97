"""The look of the page: light, dark and on paper."""

from __future__ import annotations

__all__ = ["SHEET"]

SHEET = """
:root { --ground: #fbfaf7; --ink: #1c1c1c; --soft: #5d5a54; --rule: #c9c5bb; --pale: #efece4;
  --reel: #ffffff; --mark: #1c1c1c; --warn: #8a2b0f; }
@media (prefers-color-scheme: dark) { :root { --ground: #191a1b; --ink: #ece9e2; --soft: #a9a59b;
  --rule: #45443f; --pale: #252627; --reel: #2d2f30; --mark: #ece9e2; --warn: #ffae8f; } }
@media print { :root { --ground: #fff; --ink: #000; --soft: #333; --rule: #999; --pale: #eee;
  --reel: #fff; --mark: #000; --warn: #000; } }
* { box-sizing: border-box; }
body { margin: 0 auto; max-width: 72rem; padding: 1.5rem; background: var(--ground);
  color: var(--ink); font: 1rem/1.45 Arial, "Liberation Sans", sans-serif; }
h1 { font-size: 1.9rem; margin: 0; }
h2 { font-size: 1.35rem; margin: 2.2rem 0 .6rem; border-bottom: 2px solid var(--ink); }
h3 { font-size: 1.1rem; margin: 1.6rem 0 .4rem; }
h3 small { font-weight: normal; font-size: .9rem; color: var(--soft); margin-left: .6rem; }
header p, footer { color: var(--soft); }
.sign { display: inline-block; min-width: 14rem; border-bottom: 1px solid var(--ink);
  color: var(--ink); }
.attention { border: 2px solid var(--warn); padding: .2rem 1rem .6rem; margin-top: 1.2rem; }
.attention h2 { border: 0; margin: .4rem 0; color: var(--warn); }
.attention ul { margin: 0; padding-left: 1.2rem; }
.attention.none { border-color: var(--rule); padding: .7rem 1rem; font-weight: bold; }
.wide { overflow-x: auto; }
table { border-collapse: collapse; width: 100%; font-variant-numeric: tabular-nums; }
th { text-align: left; background: var(--pale); font-size: .88rem; vertical-align: bottom; }
th, td { padding: .3rem .55rem; border-bottom: 1px solid var(--rule); }
th.n, td.n { text-align: right; }
.two { display: grid; grid-template-columns: minmax(0, 3fr) minmax(0, 2fr); gap: 1.5rem;
  align-items: start; }
.two td { white-space: nowrap; }
.hatches { position: absolute; }
svg.set { width: 100%; height: auto; display: block; margin: .3rem 0 .5rem; }
rect { fill: var(--reel); stroke: var(--mark); stroke-width: 1.5; }
rect.edge { fill: url(#edge); }
rect.sheeter { fill: url(#sheeter); }
.hatch, .cross, .lead { stroke: var(--mark); fill: none; }
.lead { stroke-width: .6; }
.dot { fill: var(--soft); }
text { fill: var(--ink); text-anchor: middle; font-size: 13px; }
text.width { font-size: 20px; font-weight: bold; paint-order: stroke; stroke: var(--reel);
  stroke-width: 4px; }
text.order { paint-order: stroke; stroke: var(--reel); stroke-width: 3px; }
path.knife { fill: var(--ground); stroke: var(--mark); }
path.knife.moved { fill: var(--mark); }
text.knife.moved { font-weight: bold; text-decoration: underline; }
footer { margin-top: 2.5rem; border-top: 1px solid var(--rule); padding-top: .8rem; }
@media (max-width: 45rem) { .two { grid-template-columns: 1fr; } body { padding: .8rem; } }
@media print { @page { size: A4; margin: 12mm; }
  body { max-width: none; padding: 0; font-size: 10pt; }
  article, tr, .attention { break-inside: avoid; } h2, h3 { break-after: avoid; }
  .run { break-before: page; } .wide { overflow: visible; } }
"""
