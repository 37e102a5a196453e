"""Arranges music of the Freedoom project (BSD license, see LICENSE) for eight brass parts, as MusicXML.

    arrange.py WAD LUMP OUT.mxl [FROM-BEAT TO-BEAT]

Drums are left out. Each channel is parted into lines of one note at a time, the highest first; the eight lines with the
most notes go to the parts by their height, each moved by octaves into the range of its instrument. A phrase has the
dynamic mark of its mean velocity.
"""
import collections
import struct
import sys
import zipfile

PARTS = [("Trumpet 1", 55, 82), ("Trumpet 2", 55, 80), ("Trumpet 3", 55, 77), ("Mellophone 1", 52, 74),
         ("Mellophone 2", 52, 74), ("Baritone 1", 45, 70), ("Baritone 2", 43, 67), ("Tuba", 29, 53)]


def number(d, i):
    v = 0
    while True:
        v, i = v << 7 | d[i] & 127, i + 1
        if d[i - 1] < 128:
            return v, i


def notes_of(raw):
    """The notes of each channel as (from, to, key, velocity), the tempos, and the ticks of a quarter."""
    division, at = struct.unpack(">H", raw[12:14])[0], 14
    notes, tempos = collections.defaultdict(list), {}
    while raw[at:at + 4] == b"MTrk":
        size = struct.unpack(">I", raw[at + 4:at + 8])[0]
        d, i, t, status, sounding = raw[at + 8:at + 8 + size], 0, 0, 0, {}
        at += 8 + size
        while i < len(d):
            step, i = number(d, i)
            t += step
            if d[i] >= 128:
                status, i = d[i], i + 1
            if status == 0xFF:
                kind = d[i]
                size, i = number(d, i + 1)
                if kind == 0x51:
                    tempos[t] = d[i:i + 3]
                i += size
            elif status in (0xF0, 0xF7):
                size, i = number(d, i)
                i += size
            elif status >> 4 in (0xC, 0xD):
                i += 1
            else:
                key, value, i = d[i], d[i + 1], i + 2
                if status >> 4 in (8, 9) and (status & 15, key) in sounding:
                    begin, velocity = sounding.pop((status & 15, key))
                    notes[status & 15].append((begin, t, key, velocity))
                if status >> 4 == 9 and value:
                    sounding[status & 15, key] = t, value
    return notes, tempos, division


def lines_of(notes, grid):
    """Lines of one note at a time, on a grid of ticks."""
    chords = collections.defaultdict(list)
    for begin, end, key, velocity in notes:
        begin = round(begin / grid) * grid
        chords[begin].append((key, max(round(end / grid) * grid, begin + grid), velocity))
    lines = collections.defaultdict(list)
    for begin in sorted(chords):
        for rank, (key, end, velocity) in enumerate(sorted(chords[begin], reverse=True)):
            line = lines[rank]
            if line and line[-1][1] > begin:
                line[-1] = (line[-1][0], begin, *line[-1][2:])
            line.append((begin, end, key, velocity))
    return list(lines.values())


STEPS = [("C", 0), ("C", 1), ("D", 0), ("E", -1), ("E", 0), ("F", 0), ("F", 1), ("G", 0), ("A", -1), ("A", 0), ("B", -1),
         ("B", 0)]
MARKS = [(41, "pp"), (53, "p"), (64, "mp"), (83, "mf"), (104, "f"), (128, "ff")]  # up to a velocity
MEASURE = 16  # sixteenths


def phrases(line):
    """The places of a line where a phrase begins, after a rest of a measure, with its dynamic mark."""
    starts = [i for i, n in enumerate(line) if i == 0 or n[0] - line[i - 1][1] >= MEASURE]
    marks = {}
    for a, b in zip(starts, starts[1:] + [len(line)]):
        mean = sum(n[3] for n in line[a:b]) / (b - a)
        marks[line[a][0]] = next(mark for top, mark in MARKS if mean < top)
    return marks


def measures(line, count, tempos):
    """The measures of a part, in sixteenths: notes are tied over barlines."""
    marks, sounding = phrases(line), {}
    for a, b, key, _ in line:
        for at in range(a, b):
            sounding[at] = key, a, b
    for m in range(count):
        yield f'<measure number="{m + 1}">'
        if m == 0:
            yield ("<attributes><divisions>4</divisions><time><beats>4</beats><beat-type>4</beat-type></time>"
                   "</attributes>")
        at = m * MEASURE
        while at < (m + 1) * MEASURE:
            if at in tempos:
                yield f'<sound tempo="{tempos[at]}"/>'
            if at in marks:
                yield f"<direction><direction-type><dynamics><{marks[at]}/></dynamics></direction-type></direction>"
            end = at + 1
            while end < (m + 1) * MEASURE and sounding.get(end) == sounding.get(at) and end not in tempos:
                end += 1
            what = "<rest/>"
            ties = ""
            if at in sounding:
                key, begin, over = sounding[at]
                step, alter = STEPS[key % 12]
                what = f"<pitch><step>{step}</step><alter>{alter}</alter><octave>{key // 12 - 1}</octave></pitch>"
                ties = '<tie type="stop"/>' * (at > begin) + '<tie type="start"/>' * (end < over)
            yield f"<note>{what}<duration>{end - at}</duration>{ties}</note>"
            at = end
        yield "</measure>"


def main(wad, lump, out, first="0", last="100000"):
    data = open(wad, "rb").read()
    count, directory = struct.unpack("<II", data[4:12])
    for i in range(count):
        at, size, name = struct.unpack("<II8s", data[directory + 16 * i:directory + 16 * i + 16])
        if name.rstrip(b"\0").decode() == lump:
            notes, tempos, division = notes_of(data[at:at + size])
    begin, end, grid = int(first) * division, int(last) * division, division // 4
    lines = [line for channel, list_ in sorted(notes.items()) if channel != 9 for line in lines_of(list_, grid)]
    lines = [[((a - begin) // grid, (min(b, end) - begin) // grid, k, v) for a, b, k, v in line if begin <= a < end]
             for line in lines]
    lines = sorted((x for x in lines if x), key=len, reverse=True)[:len(PARTS)]
    lines.sort(key=lambda line: sum(n[2] for n in line) / len(line), reverse=True)
    count = -(-max(line[-1][1] for line in lines) // MEASURE)
    tempos = {max((t - begin) // grid, 0): round(6e7 / int.from_bytes(v, "big")) for t, v in sorted(tempos.items())}
    text = ['<score-partwise version="4.0"><part-list>']
    text += [f'<score-part id="P{n}"><part-name>{part[0]}</part-name></score-part>' for n, part in enumerate(PARTS)]
    text.append("</part-list>")
    for n, (line, (name, low, high)) in enumerate(zip(lines, PARTS)):
        middle = sum(note[2] for note in line) / len(line)
        shift = 12 * round(((low + high) / 2 - middle) / 12)
        moved = []
        for a, b, key, velocity in line:
            key += shift
            while key < low:
                key += 12
            while key > high:
                key -= 12
            moved.append((a, b, key, velocity))
        text += [f'<part id="P{n}">', *measures(moved, count, tempos if n == 0 else {}), "</part>"]
    text.append("</score-partwise>\n")
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as z:
        for name, body in (("META-INF/container.xml", '<container><rootfiles><rootfile full-path="score.musicxml"/>'
                            "</rootfiles></container>"), ("score.musicxml", "\n".join(text))):
            z.writestr(zipfile.ZipInfo(name), body, zipfile.ZIP_DEFLATED)


main(*sys.argv[1:])
