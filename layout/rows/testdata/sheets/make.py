"""Writes forty drill sheets of invented players, in shapes and notations that drill staffs use, and meters.csv: where
each dot is, by this script's own arithmetic. It shares no code with Backfield. Run it here: python3 make.py

Sources of the dimensions: a step is 22.5 in (8 to 5 yards, common practice); NCAA Football Rules 2-12: hashes 60 ft from
the sidelines of a field 160 ft wide. lines.txt has the lines of show.toml that say how each sheet is laid out.
"""
import csv
import random
import zipfile
from xml.sax.saxutils import escape

STEP, YARD, FOOT = 0.5715, 0.9144, 0.3048
LINES = {"FSL": 0, "FH": 60 * FOOT, "BH": 100 * FOOT, "BSL": 160 * FOOT}
SETS, PLAYERS = ["1", "2", "2A", "3"], ["T1", "T2", "M1", "B1", "C1"]


def dots(seed):
    """The dots of a sheet: side, steps, relation and yard line; steps, relation and line."""
    rnd = random.Random(seed)
    out = {}
    for p, player in enumerate(PLAYERS):
        for s in SETS:
            n, m = rnd.choice([1, 1.25, 2.5, 3.75]), rnd.choice([2, 3.5, 4])
            line = rnd.choice(["FSL", "FH", "BH", "BSL"])
            rel = {"FSL": "behind", "BSL": "front"}.get(line) or rnd.choice(["behind", "front", "on"])
            out[s, player] = (rnd.choice([1, 2]), n, rnd.choice(["in", "out", "on"]), [25, 30, 35, 40, 45][p], m, rel, line)
    return out


def meters(dot):
    side, n, rel, yard, m, drel, line = dot
    x = (50 - yard) * YARD + {"in": -n, "out": n, "on": 0}[rel] * STEP
    y = LINES[line] + {"front": -m, "behind": m, "on": 0}[drel] * STEP
    return (-x if side == 1 else x), y


def num(v):
    return "%g" % v


def fraction(v, sign="-"):
    whole, part = int(v), {0: "", .25: "1/4", .5: "1/2", .75: "3/4"}[v % 1]
    return part if part and not whole else str(whole) + (sign + part if part else "")


def glyph(v):
    return str(int(v)) + {0: "", .25: "¼", .5: "½", .75: "¾"}[v % 1]


LONG = {"FSL": "front sideline", "FH": "front hash", "BH": "back hash", "BSL": "back sideline"}
HOME = {"FSL": "home sideline", "FH": "home hash", "BH": "visitor hash", "BSL": "visitor sideline"}


def lateral(d, side="side %d, ", steps=num, words=("inside", "outside", "on"), line="%d", last=False):
    s, n, rel, yard = d[:4]
    where = words[2] + " " if rel == "on" else "%s %s " % (steps(n), words[0 if rel == "in" else 1])
    text = where + line % yard
    return text + " " + side % s if last else side % s + text


def depth(d, steps=num, words=("in front of", "behind", "on"), names=LONG, line="%s"):
    m, rel, name = d[4:]
    where = words[2] + " " if rel == "on" else "%s %s " % (steps(m), words[0 if rel == "front" else 1])
    return where + line % names[name]


class Short(dict):
    def __missing__(self, k):
        return k


SHORT = Short()
# A notation: how each half is written, and what [drill.words] must say.
NOTATIONS = {
    "plain": (lateral, depth, ""),
    "short": (lambda d: lateral(d, "S%d ", words=("in", "out", "on")), lambda d: depth(d, words=("ifo", "beh", "on"), names=SHORT), ""),
    "letters": (lambda d: ("side A, " if d[0] == 1 else "side B, ") + lateral(d, "%.0s"), lambda d: depth(d, names=HOME), ""),
    "fractions": (lambda d: lateral(d, steps=fraction), lambda d: depth(d, steps=fraction), ""),
    "spaced": (lambda d: lateral(d, steps=lambda v: fraction(v, " ")), lambda d: depth(d, steps=lambda v: fraction(v, " ")), ""),
    "glyphs": (lambda d: lateral(d, "S%d ", steps=glyph), lambda d: depth(d, steps=glyph), ""),
    "steps": (lambda d: lateral(d, "Side %d: ", steps=lambda v: num(v) + " steps", line="the %d yd line"),
              lambda d: depth(d, steps=lambda v: num(v) + " steps", line="the %s"), ""),
    "last": (lambda d: lateral(d, "side %d", last=True), depth, ""),
    "capitals": (lambda d: lateral(d).upper(), lambda d: depth(d, names=HOME).title(), ""),
    "hash line": (lateral, lambda d: depth(d).replace("hash", "hash line"), ""),
    "audience": (lambda d: ("Left " if d[0] == 1 else "Right ") + lateral(d, "%.0s"), depth, '"Left" = "side 1"\n"Right" = "side 2"\n'),
    "codes": (lambda d: lateral(d, "S%d ", words=("twd", "away", "@")).replace("@", "on"), lambda d: depth(d, words=("dn", "up", "on")),
              '"twd" = "inside"\n"away" = "outside"\n"dn" = "in front of"\n"up" = "behind"\n'),
}


def rows(ds, l, d, sep="; ", join=False):
    body = [[s, p, l(v), d(v)] for (s, p), v in sorted(ds.items(), key=lambda i: (SETS.index(i[0][0]), i[0][1]))]
    return [[r[0], r[1], r[2] + sep + r[3]] for r in body] if join else body


def flat(ds, l, d):
    return [["set", "player", "lateral", "depth"]] + rows(ds, l, d), ""


def renamed(ds, l, d):
    return ([["Form", "Who", "Side to side", "Front to back", "Note"]] + [r + ["x"] for r in rows(ds, l, d)],
            'set = "Form"\nplayer = "Who"\nlateral = "Side to side"\ndepth = "Front to back"\n')


def onecell(ds, l, d):
    return ([["Set #", "Performer", "Coordinate"]] + rows(ds, l, d, join=True),
            'set = "Set #"\nplayer = "Performer"\ndot = "Coordinate"\n')


def titled(ds, l, d):
    return ([["Invented Show, second draft"], []] + [["Set", "Name", "Dot"]] + rows(ds, l, d, " | ", True) + [[], ["printed Tuesday"]],
            'header = 3\nset = "Set"\nplayer = "Name"\ndot = "Dot"\n')


def wide(ds, l, d):
    return ([["Player"] + ["Set " + s for s in SETS]] + [[p] + [l(ds[s, p]) + "; " + d(ds[s, p]) for s in SETS] for p in PLAYERS],
            'player = "Player"\ndot = "Set {set}"\n')


def halves(ds, l, d):
    return ([["Player"] + [s + h for s in SETS for h in (" side", " depth")]] +
            [[p] + [f(ds[s, p]) for s in SETS for f in (l, d)] for p in PLAYERS],
            'player = "Player"\nlateral = "{set} side"\ndepth = "{set} depth"\n')


def across(ds, l, d):
    table = wide(ds, l, d)[0]
    return [list(r) for r in zip(*table)], 'transposed = true\nplayer = "Player"\ndot = "Set {set}"\n'


def filled(ds, l, d):
    out, last = [["Name", "Set", "Across", "Along"]], None
    for p in PLAYERS:
        for s in SETS:
            out.append([p if p != last else "", s, l(ds[s, p]), d(ds[s, p])])
            last = p
    return out, 'fill = "down"\nplayer = "Name"\nset = "Set"\nlateral = "Across"\ndepth = "Along"\n'


def blocks(ds, l, d):
    out = []
    for p in PLAYERS:
        out += [["Performer: " + p], ["Set", "Across", "Along"]] + [[s, l(ds[s, p]), d(ds[s, p])] for s in SETS] + [[]]
    return out, 'block = "Performer: {player}"\nset = "Set"\nlateral = "Across"\ndepth = "Along"\n'


def setblocks(ds, l, d):
    out = []
    for s in SETS:
        out += [["SET " + s], ["Who", "Dot"]] + [[p, l(ds[s, p]) + "; " + d(ds[s, p])] for p in PLAYERS] + [[]]
    return out, 'block = "SET {set}"\nplayer = "Who"\ndot = "Dot"\n'


def parts(ds, l, d):
    out = [["Set", "Symbol", "Label", "Side", "Steps", "In/Out", "Yard", "Depth steps", "F/B", "Hash"]]
    for s, p, *_ in rows(ds, lateral, depth):
        side, n, rel, yard, m, drel, line = ds[s, p]
        out.append([s, p[0], p[1:], side, num(n) if rel != "on" else 0, {"in": "In", "out": "Out", "on": ""}[rel], yard,
                    num(m) if drel != "on" else 0, {"front": "F", "behind": "B", "on": ""}[drel], LONG[line]])
    return out, ('player = ["Symbol", "Label"]\nset = "Set"\nside = "Side"\nsteps = "Steps"\ninside = "In/Out"\nyard = "Yard"\n'
                 'depth_steps = "Depth steps"\nbehind = "F/B"\nline = "Hash"\n')


def plainxy(unit, per):
    def make(ds, l, d):
        out = [["Set", "Player", "X", "Y"]]
        for (s, p), v in ds.items():
            x, y = meters(v)
            out.append([s, p, "%.6f" % (x / per), "%.6f" % (y / per)])
        return out, 'set = "Set"\nplayer = "Player"\nx = "X"\ny = "Y"\nunit = "%s"\n' % unit
    make.__name__ = "x and y in " + unit
    return make


def persheet(ds, l, d):
    return ({"Form " + s: [["Who", "Across", "Along"]] + [[p, l(ds[s, p]), d(ds[s, p])] for p in PLAYERS] for s in SETS},
            'sheet = "Form {set}"\nplayer = "Who"\nlateral = "Across"\ndepth = "Along"\n')


def perplayer(ds, l, d):
    return ({p: [["Invented Show"], ["Set", "Dot"]] + [[s, l(ds[s, p]) + "; " + d(ds[s, p])] for s in SETS] for p in PLAYERS},
            'sheet = "{player}"\nheader = 2\nset = "Set"\ndot = "Dot"\n')


def twoheads(ds, l, d):
    return ([["", *[x for s in SETS for x in ("Set " + s, "")]], ["Name", *["Across", "Along"] * len(SETS)]] +
            [[p] + [f(ds[s, p]) for s in SETS for f in (l, d)] for p in PLAYERS],
            'header = [1, 2]\nplayer = "Name"\nlateral = "Set {set} Across"\ndepth = "Set {set} Along"\n')


def refused(change, says):
    def make(ds, l, d):
        sheet, lines = flat(ds, l, d)
        return change(sheet), lines
    make.says, make.__name__ = says, "refused"
    return make


def reword(old, new):
    return lambda sheet: [[c.replace(old, new) if isinstance(c, str) else c for c in r] for r in sheet]


SHEETS = [
    ("csv", flat, n) for n in NOTATIONS] + [
    ("xlsx", renamed, "plain"), ("csv", renamed, "glyphs"), ("xlsx", onecell, "short"), ("csv", onecell, "steps"),
    ("xlsx", titled, "fractions"), ("csv", titled, "letters"), ("xlsx", wide, "short"), ("csv", wide, "audience"),
    ("xlsx", halves, "plain"), ("csv", halves, "spaced"), ("xlsx", across, "short"), ("xlsx", filled, "codes"),
    ("csv", filled, "last"), ("xlsx", blocks, "plain"), ("csv", blocks, "hash line"), ("xlsx", setblocks, "short"),
    ("csv", setblocks, "capitals"), ("xlsx", parts, "plain"), ("csv", parts, "plain"), ("csv", plainxy("m", 1), "plain"),
    ("csv", plainxy("steps", STEP), "plain"), ("xlsx", plainxy("yd", YARD), "plain"), ("xlsx", plainxy("ft", FOOT), "plain"),
    ("xlsx", persheet, "steps"), ("xlsx", perplayer, "fractions"), ("xlsx", twoheads, "plain"),
    # What cannot be known is refused, with the line to add.
    ("csv", refused(reword("side 1", "left"), '"left" = "side 1"'), "plain"),
    ("csv", refused(reword("hash", "hash (HS)"), '"(HS)" = ""'), "plain"),
    ("csv", refused(reword("inside", "toward"), '"toward" = "..."'), "plain"),
    ("csv", refused(reword("lateral", "Across"), "lateral"), "plain"),
    ("csv", refused(reword("side 1, ", ""), "side 1"), "plain"),
    ("csv", refused(lambda s: [r[1:] for r in s], '"set"'), "plain"),
]


def column(i):
    return (chr(64 + i // 26) if i >= 26 else "") + chr(65 + i % 26)


def xlsx(path, sheets):
    """A workbook by its parts (ECMA-376), with texts in the cells."""
    main = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
    rel = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
    pack = "http://schemas.openxmlformats.org/package/2006/"
    head = '<?xml version="1.0" encoding="UTF-8" standalone="yes"?>\n'
    parts = {"[Content_Types].xml": head + '<Types xmlns="%scontent-types"><Default Extension="rels" ContentType="application/vnd.'
             'openxmlformats-package.relationships+xml"/><Default Extension="xml" ContentType="application/xml"/>'
             '<Override PartName="/xl/workbook.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.sheet.'
             'main+xml"/>%s</Types>' % (pack, "".join(
                 '<Override PartName="/xl/worksheets/sheet%d.xml" ContentType="application/vnd.openxmlformats-officedocument.'
                 'spreadsheetml.worksheet+xml"/>' % (i + 1) for i in range(len(sheets)))),
             "_rels/.rels": head + '<Relationships xmlns="%srelationships"><Relationship Id="rId1" Type="%s/officeDocument" '
             'Target="xl/workbook.xml"/></Relationships>' % (pack, rel),
             "xl/workbook.xml": head + '<workbook xmlns="%s" xmlns:r="%s"><sheets>%s</sheets></workbook>' % (main, rel, "".join(
                 '<sheet name="%s" sheetId="%d" r:id="rId%d"/>' % (escape(n), i + 1, i + 1) for i, n in enumerate(sheets))),
             "xl/_rels/workbook.xml.rels": head + '<Relationships xmlns="%srelationships">%s</Relationships>' % (pack, "".join(
                 '<Relationship Id="rId%d" Type="%s/worksheet" Target="worksheets/sheet%d.xml"/>' % (i + 1, rel, i + 1)
                 for i in range(len(sheets))))}
    for i, table in enumerate(sheets.values()):
        text = ""
        for n, row in enumerate(table):
            cells = ""
            for k, c in enumerate(row):
                at = column(k) + str(n + 1)
                if isinstance(c, (int, float)):
                    cells += '<c r="%s"><v>%s</v></c>' % (at, c)
                elif c != "":
                    cells += '<c r="%s" t="inlineStr"><is><t>%s</t></is></c>' % (at, escape(c))
            text += '<row r="%d">%s</row>' % (n + 1, cells)
        parts["xl/worksheets/sheet%d.xml" % (i + 1)] = head + '<worksheet xmlns="%s"><sheetData>%s</sheetData></worksheet>' % (main, text)
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as z:
        for name, body in parts.items():
            z.writestr(zipfile.ZipInfo(name, (2020, 1, 1, 0, 0, 0)), body)


def main():
    table, lines = [["sheet", "set", "player", "x_m", "y_m"]], []
    for i, (kind, shape, notation) in enumerate(SHEETS):
        name = "%02d.%s" % (i + 1, kind)
        l, d, words = NOTATIONS[notation]
        ds = dots(i)
        sheet, columns = shape(ds, l, d)
        if kind == "csv":
            with open(name, "w", newline="", encoding="utf-8") as f:
                csv.writer(f, lineterminator="\n").writerows(sheet)
        else:
            xlsx(name, sheet if isinstance(sheet, dict) else {"Dots": sheet})
        lines.append("-- %s --\n# %s, %s\n%s%s" % (name, shape.__name__, notation, columns and "[columns]\n" + columns,
                                              words and "[words]\n" + words))
        if hasattr(shape, "says"):
            lines.append("[refused]\nsays = '%s'\n" % shape.says)
            continue
        for (s, p), v in ds.items():
            x, y = meters(v)
            table.append([name, s, p, "%.4f" % x, "%.4f" % y])
    with open("meters.csv", "w", newline="") as f:
        csv.writer(f, lineterminator="\n").writerows(table)
    with open("lines.txt", "w") as f:
        f.write("\n".join(lines))


main()
