#!/usr/bin/env python3
"""Joins the parts' results, build/validation/NAME.json, into validation.md and validation.html.

The HTML holds its figures and styles in itself. A part that could not be run is told as such, with
the last lines of what it said.
"""

import argparse
import base64
import datetime
import html
import json
import pathlib
import re
import sys
from collections import Counter

VERDICTS = ("agrees", "MISS", "not computed", "reported")
ORDER = {"MISS": 0, "reported": 1, "agrees": 2, "not computed": 3}
COLUMNS = ("id", "quantity", "published", "computed", "verdict")
DETAILS = ("tolerance", "note", "source", "provenance")

BELIEVE = """**Why believe it.** Every comparison names a source outside the project and how the
number is known. Tolerances come from the precision of the source, as it states it or by the digits
it prints; where a source says "about" or "order of", the remark tells what that was taken for.
Everything was computed anew for this document; no result below was typed in. Misses are listed
first, and a row that is not computed says why.

**Where not.** *Agrees* means inside the tolerance given, for that input, and no more. Many values
are from memory of the publication named; those marked *read* weigh more. Parameters and material
properties that agree were taken from the very rows they agree with: that shows faithful copying.
What a whole pile does rests on few field trials, whose inputs are told in part only; look at the
misses there before trusting a forecast of a pile unlike them. Checks among the project's own
calculations show that it solves its equations, and not that the equations are those of compost."""


def read_parts(folder):
    """The parts that wrote a result, in order, and those that failed, by name."""
    parts, failed = [], []
    for path in sorted(folder.glob("*.json")):
        try:
            part = json.loads(path.read_text(encoding="utf-8"))
            part["name"] = path.stem
            parts.append({"order": 99, **part, "section": part["section"]})
        except (ValueError, KeyError, TypeError) as error:
            failed.append((path.stem, f"its result cannot be read: {error!r}"))
    for path in sorted(folder.glob("*.failed")):
        failed.append((path.stem, path.read_text(encoding="utf-8", errors="replace")))
    return sorted(parts, key=lambda part: (part["order"], part["name"])), failed


def counts(rows):
    """How many rows have each verdict; an unknown verdict is an error."""
    found = Counter(row.get("verdict", "reported") for row in rows)
    unknown = set(found) - set(VERDICTS)
    if unknown:
        raise SystemExit(f"unknown verdict {unknown}")
    return [found[v] for v in VERDICTS]


def count_table(parts):
    """Rows of the table of counts: one a part, and the sum."""
    rows = [[part["section"], *counts(part.get("rows", []))] for part in parts]
    rows.append(["all", *counts([row for part in parts for row in part.get("rows", [])])])
    return rows


def ordered(rows):
    """Misses first, rows that are not computed last; else as given."""
    return sorted(rows, key=lambda row: ORDER[row.get("verdict", "reported")])


def with_unit(row, key):
    """A value with the row's unit."""
    value, unit = str(row.get(key, "")), row.get("unit", "")
    return f"{value} {unit}" if value and unit not in ("", "-") else value


# ---- Markdown

def cell(text):
    """A text for a cell of a Markdown table."""
    return str(text).replace("|", "\\|").replace("\n", " ")


def markdown_table(columns, rows):
    """A Markdown table."""
    lines = ["| " + " | ".join(map(cell, columns)) + " |", "|" + " --- |" * len(columns)]
    return lines + ["| " + " | ".join(map(cell, row)) + " |" for row in rows] + [""]


def markdown_rows(rows):
    """The rows of a part as a table."""
    columns = (*COLUMNS, *DETAILS)
    return markdown_table(columns, [
        [with_unit(row, key) if key in ("published", "computed") else row.get(key, "")
         for key in columns] for row in rows])


def markdown_part(part):
    """One part as lines of Markdown."""
    lines = [f"## {part['section']}", "", part.get("intro", ""), ""]
    lines += [f"- {line}" for line in part.get("summary", [])] + [""]
    for table in part.get("tables", []):
        lines += [f"### {table['title']}", "", *markdown_table(table["columns"], table["rows"])]
    for figure in part.get("figures", []):
        lines += [f"![{cell(figure['caption'])}]({figure['file']})", "", figure["caption"], ""]
    rows = ordered(part.get("rows", []))
    if rows:
        lines += ["### Every row", "", *markdown_rows(rows)]
    return lines


def markdown(parts, failed, made):
    """The whole document."""
    lines = ["# Validation of Heapcast", "", made, "", BELIEVE, ""]
    lines += markdown_table(("part", *VERDICTS), count_table(parts))
    for name, said in failed:
        lines += [f"**{name} could not be run.** Its last lines:", "", "```", said, "```", ""]
    misses = [row for part in parts for row in part.get("rows", []) if row.get("verdict") == "MISS"]
    if misses:
        lines += [f"## The {len(misses)} misses", "", *markdown_rows(misses)]
    for part in parts:
        lines += markdown_part(part)
    return "\n".join(lines)


# ---- HTML

STYLE = """
:root { color-scheme: light dark; --line: #8886; --soft: #8881; --miss: #b3261e; --good: #1b6e3c;
  --dim: #666; }
@media (prefers-color-scheme: dark) { :root { --miss: #ff8a80; --good: #7fd6a0; --dim: #aaa; } }
body { font: 16px/1.5 system-ui, sans-serif; max-width: 75rem; margin: 0 auto; padding: 0 1rem 3rem; }
h1 { line-height: 1.2; } h2 { margin-top: 2.5rem; border-bottom: 1px solid var(--line); }
p, li { max-width: 45rem; } nav a { margin-right: 1rem; white-space: nowrap; }
code, pre { font-size: .9em; overflow-wrap: anywhere; } pre { white-space: pre-wrap;
  background: var(--soft); padding: .6rem; }
.scroll { overflow-x: auto; } table { border-collapse: collapse; margin: 1rem 0; }
th, td { text-align: left; vertical-align: top; padding: .3rem .6rem;
  border-bottom: 1px solid var(--line); }
.small { font-size: .9rem; } .small td { overflow-wrap: break-word; }
.rows { width: 100%; font-size: .9rem; table-layout: fixed; } .rows td { overflow-wrap: anywhere; }
.rows th:nth-child(1) { width: 25%; } .rows th:nth-child(2) { width: 12%; }
.rows th:nth-child(3) { width: 17%; } .rows th:nth-child(4) { width: 9%; }
.id { color: var(--dim); font-size: .85em; } .more { color: var(--dim); font-size: .9em; }
.MISS, .failed { color: var(--miss); font-weight: 600; } .agrees { color: var(--good); }
figure { margin: 1.5rem 0; } figure img { max-width: 100%; height: auto; background: #fff; }
figcaption { max-width: 45rem; color: var(--dim); } summary { cursor: pointer; font-weight: 600; }
@media (max-width: 45rem) {
  .small { font-size: .8rem; } .small th, .small td { padding: .2rem .25rem; }
  .rows, .rows tbody, .rows tr, .rows td { display: block; width: auto; }
  .rows thead { display: none; } .rows tr { border-bottom: 1px solid var(--line); padding: .5rem 0; }
  .rows td { border: 0; padding: .05rem 0; }
  .rows td[data-label]::before { content: attr(data-label) ": "; color: var(--dim); }
}
@media print { body { max-width: none; font-size: 9pt; } nav { display: none; }
  tr, figure { break-inside: avoid; } h2, h3 { break-after: avoid; } .rows { font-size: 8pt; } }
"""


def inline(text):
    """Text with Markdown's code, bold, italics and web addresses as HTML."""
    out = html.escape(str(text), quote=False)
    out = re.sub(r"`([^`]+)`", r"<code>\1</code>", out)
    out = re.sub(r"\*\*([^*]+)\*\*", r"<strong>\1</strong>", out)
    out = re.sub(r"(?<![\w*])\*([^*\s][^*]*)\*(?![\w*])", r"<em>\1</em>", out)
    return re.sub(r"\[([^\]]+)\]\((https?://[^)\s]+)\)", r'<a href="\2">\1</a>', out)


def prose(text):
    """Paragraphs and lists of Markdown as HTML."""
    out = []
    for block in re.split(r"\n\s*\n", str(text).strip()):
        if re.match(r"[-*] ", block):
            items = re.split(r"\n(?=[-*] )", block)
            out.append("<ul>" + "".join(f"<li>{inline(i[2:])}</li>" for i in items) + "</ul>")
        elif block:
            out.append(f"<p>{inline(block)}</p>")
    return "".join(out)


def html_table(columns, rows):
    """A table that scrolls sideways where it is wider than the page."""
    head = "".join(f"<th>{inline(c)}</th>" for c in columns)
    body = "".join("<tr>" + "".join(f"<td>{inline(c)}</td>" for c in row) + "</tr>" for row in rows)
    return (f'<div class="scroll"><table class="small"><thead><tr>{head}</tr></thead>'
            f"<tbody>{body}</tbody></table></div>")


def html_rows(rows):
    """The rows of a part, each with what a reader needs to judge it."""
    out = []
    for row in rows:
        verdict = row.get("verdict", "reported")
        more = []
        if row.get("tolerance"):
            more.append("Tolerance: " + inline(row["tolerance"]))
        if row.get("source"):
            more.append(f"{inline(row['source'])} ({inline(row.get('provenance') or 'not told')})")
        note = f"{inline(row['note'])}<br>" if row.get("note") else ""
        out.append(
            f'<tr><td>{inline(row.get("quantity", ""))}<br><span class="id">'
            f'{html.escape(str(row.get("id", "")))}</span></td>'
            f'<td data-label="published">{inline(with_unit(row, "published"))}</td>'
            f'<td data-label="computed">{inline(with_unit(row, "computed"))}</td>'
            f'<td class="{verdict.split()[0]}">{verdict}</td>'
            f'<td>{note}<span class="more">{"<br>".join(more)}</span></td></tr>')
    head = "".join(f"<th>{c}</th>" for c in ("quantity", "published", "computed", "verdict",
                                             "remarks, tolerance, source"))
    return (f'<table class="rows"><thead><tr>{head}</tr></thead><tbody>' + "".join(out)
            + "</tbody></table>")


def html_figure(folder, figure):
    """A figure in the document itself; told where its file is missing."""
    path = folder / figure["file"]
    if not path.is_file():
        return f'<p class="failed">The figure {html.escape(figure["file"])} is missing.</p>'
    kind = {".svg": "svg+xml", ".png": "png"}[path.suffix]
    data = base64.b64encode(path.read_bytes()).decode()
    caption = inline(figure["caption"])
    return (f'<figure><img alt="{html.escape(figure["caption"])}" '
            f'src="data:image/{kind};base64,{data}"><figcaption>{caption}</figcaption></figure>')


def html_part(folder, part):
    """One part."""
    out = [f'<h2 id="{part["name"]}">{inline(part["section"])}</h2>', prose(part.get("intro", ""))]
    if part.get("summary"):
        out.append("<ul>" + "".join(f"<li>{inline(s)}</li>" for s in part["summary"]) + "</ul>")
    for table in part.get("tables", []):
        out += [f"<h3>{inline(table['title'])}</h3>", html_table(table["columns"], table["rows"])]
    out += [html_figure(folder, figure) for figure in part.get("figures", [])]
    rows = ordered(part.get("rows", []))
    for verdict in sorted(VERDICTS, key=ORDER.get):
        chosen = [row for row in rows if row.get("verdict", "reported") == verdict]
        if chosen:
            out.append(f"<details><summary>{len(chosen)} {verdict}</summary>"
                       f"{html_rows(chosen)}</details>")
    return "".join(out)


def page(folder, parts, failed, made):
    """The whole document; printing opens what is folded."""
    total = count_table(parts)[-1]
    misses = [{**row, "id": f"{part['name']}: {row.get('id', '')}"}
              for part in parts for row in part.get("rows", []) if row.get("verdict") == "MISS"]
    out = ["<!DOCTYPE html><html lang=en><head><meta charset=utf-8>",
           '<meta name=viewport content="width=device-width, initial-scale=1">',
           f"<title>Validation of Heapcast</title><style>{STYLE}</style></head><body>",
           f"<h1>Validation of Heapcast</h1><p>{inline(made)}</p>",
           f"<p><strong>{total[1]} agree, <span class=MISS>{total[2]} are missed</span>, "
           f"{total[3]} are not computed, {total[4]} are reported.</strong></p>",
           prose(BELIEVE), html_table(("part", *VERDICTS), count_table(parts)), "<nav>",
           *[f'<a href="#{p["name"]}">{inline(p["section"])}</a>' for p in parts], "</nav>"]
    for name, said in failed:
        out.append(f"<h2 class=failed>{html.escape(name)} could not be run</h2>"
                   f"<p>Its last lines:</p><pre>{html.escape(said)}</pre>")
    if misses:
        out.append(f"<details open><summary>The {len(misses)} misses of all parts</summary>"
                   f"{html_rows(misses)}</details>")
    out += [html_part(folder, part) for part in parts]
    out.append("<script>addEventListener('beforeprint',()=>document.querySelectorAll('details')"
               ".forEach(d=>d.open=true))</script></body></html>")
    return "".join(out)


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--folder", type=pathlib.Path, default=pathlib.Path("build/validation"))
    parser.add_argument("--note", default="", help="how the parts were run, for the head")
    options = parser.parse_args()
    parts, failed = read_parts(options.folder)
    made = f"Made on {datetime.date.today().isoformat()}. {options.note}".strip()
    if not parts and not failed:
        print(f"{options.folder} holds no results", file=sys.stderr)
        return 1
    (options.folder / "validation.md").write_text(markdown(parts, failed, made), encoding="utf-8")
    (options.folder / "validation.html").write_text(page(options.folder, parts, failed, made),
                                                    encoding="utf-8")
    for name, *numbers in count_table(parts):
        print(f"{name}: " + ", ".join(f"{n} {v}" for n, v in zip(numbers, VERDICTS, strict=True)))
    for name, _ in failed:
        print(f"{name}: could not be run")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
