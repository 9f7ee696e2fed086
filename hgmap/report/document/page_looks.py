"""What a report in HTML looks like and the little that it does; both stand in the page itself."""

from __future__ import annotations

from typing import Final

LOOKS: Final = """
:root { color-scheme: light; }
* { box-sizing: border-box; }
html { -webkit-text-size-adjust: 100%%; }
body { margin: 0 auto; padding: 12px 14px 40vh; max-width: 1040px; background: #fff;
  color: #1a1a1a; font: 16px/1.5 "DejaVu Sans", Verdana, "Noto Sans", system-ui, sans-serif;
  overflow-wrap: anywhere; }
header { border-bottom: 2px solid %(heading)s; margin-bottom: 12px; padding-bottom: 8px; }
header img { max-width: 60%%; }
.house { color: #5c6166; margin: 0; }
h1 { font-size: 1.6rem; line-height: 1.2; margin: 8px 0 2px; color: %(heading)s; }
h2 { font-size: 1.3rem; line-height: 1.25; margin: 36px 0 8px; padding-top: 8px;
  border-top: 1px solid %(rule)s; color: %(heading)s; }
h3 { font-size: 1.05rem; margin: 22px 0 6px; color: %(heading)s; }
p { margin: 6px 0; }
.strong { font-weight: bold; }
.soft, caption { color: #5c6166; font-size: .9rem; }
.caution { border: 1.5px solid #1a1a1a; background: #fff3c4; padding: 7px 10px; margin: 8px 0; }
.banner { display: inline-block; border: 2px solid #1a1a1a; background: #fff3c4;
  padding: 4px 12px; font-weight: bold; }
ul { margin: 6px 0; padding-left: 22px; }
li { margin: 3px 0; }
li.flagged { font-weight: bold; }
nav ol { columns: 2 16em; padding-left: 22px; }
a { color: #00508a; }
dl { display: grid; grid-template-columns: minmax(8em, 14em) 1fr; gap: 3px 14px; margin: 8px 0; }
dt { color: #5c6166; } dd { margin: 0; }
@media (max-width: 560px) { dl { grid-template-columns: 1fr; gap: 0; } dd { margin-bottom: 6px; } }
.wide { overflow-x: auto; margin: 10px 0; background:
  linear-gradient(270deg, #fff 40%%, #fff0) 100%% 0 / 48px 100%% no-repeat local,
  linear-gradient(270deg, #0005, #0000) 100%% 0 / 16px 100%% no-repeat scroll; }
table { border-collapse: collapse; font-size: .84rem; line-height: 1.35; min-width: 100%%; }
caption { text-align: left; padding: 4px 0; font-weight: bold; color: #1a1a1a; }
th, td { border-bottom: 1px solid %(rule)s; padding: 4px 8px; text-align: left;
  vertical-align: top; overflow-wrap: break-word; max-width: 34em; }
th { background: %(table_head)s; }
td.n, th.n { text-align: right; white-space: nowrap; }
tr.sum td { font-weight: bold; }
@media (max-width: 560px) { tr > :first-child { position: sticky; left: 0; max-width: 8.5em; }
  td:first-child { background: #fff; } }
figure { margin: 12px 0; }
.plan { border: 1px solid %(rule)s; overflow: auto; background: #fff; }
.plan svg { display: block; margin: 0 auto; }
.plan.small svg { width: 100%%; height: auto; }
svg text { font-family: "DejaVu Sans", Verdana, "Noto Sans", sans-serif; }
.t { fill: #fff; fill-opacity: 0; stroke: none; cursor: pointer; pointer-events: all; }
.t.on { stroke: #1a1a1a; stroke-width: .8px; }
.t:hover { stroke: #1a1a1a; stroke-width: .4px; }
button { font: inherit; padding: 8px 14px; margin: 6px 0; min-height: 44px; border-radius: 4px;
  border: 1px solid #5c6166; background: #f4f5f6; }
.key { display: flex; flex-wrap: wrap; gap: 6px 20px; font-size: .9rem; }
.key span { display: inline-flex; align-items: center; gap: 8px; }
#told { position: fixed; left: 0; right: 0; bottom: 0; max-height: 38vh; overflow: auto;
  background: #fff; border-top: 2px solid #1a1a1a; padding: 10px 56px 12px 14px;
  white-space: pre-line; font-size: .95rem; box-shadow: 0 -2px 10px #0003; }
#told[hidden] { display: none; }
#told button { position: absolute; right: 8px; top: 6px; margin: 0; padding: 6px 12px; }
.sign { display: grid; grid-template-columns: 1fr 1fr 10em; gap: 4px 18px; margin: 18px 0; }
.sign i { border-bottom: 1px solid #1a1a1a; height: 2.6em; }
footer { margin-top: 40px; border-top: 1px solid %(rule)s; }
@media print { body { padding: 0; font-size: 10pt; } nav, button, #told { display: none; }
  .plan, .wide { overflow: visible; } .plan svg { width: 100%%; height: auto; }
  tr, figure, .caution { break-inside: avoid; } }
"""

DOES: Final = """
(function () {
  var told = document.getElementById('told');
  var words = document.getElementById('words');
  var chosen = null;
  function show(target) {
    if (chosen) { chosen.classList.remove('on'); }
    chosen = target;
    if (!target) { told.hidden = true; return; }
    target.classList.add('on');
    words.textContent = target.querySelector('title').textContent;
    told.hidden = false;
  }
  function nearest(svg, event) {
    var best = null, least = 22;
    svg.querySelectorAll('circle.t').forEach(function (one) {
      var box = one.getBoundingClientRect();
      var away = Math.hypot(box.left + box.width / 2 - event.clientX,
                            box.top + box.height / 2 - event.clientY);
      if (away < least) { least = away; best = one; }
    });
    return best || (event.target.classList.contains('t') ? event.target : null);
  }
  document.querySelectorAll('.plan svg').forEach(function (svg) {
    svg.addEventListener('click', function (event) { show(nearest(svg, event)); });
    svg.addEventListener('pointermove', function (event) {
      if (event.pointerType === 'mouse') { show(nearest(svg, event)); }
    });
  });
  document.getElementById('shut').addEventListener('click', function () { show(null); });
  document.addEventListener('keydown', function (event) {
    if (event.key === 'Escape') { show(null); }
  });
  document.querySelectorAll('button.whole').forEach(function (button) {
    button.hidden = false;
    button.addEventListener('click', function () {
      var small = button.nextElementSibling.classList.toggle('small');
      button.textContent = small ? 'Show the plan at its own size' : 'Show the whole plan';
    });
  });
})();
"""
