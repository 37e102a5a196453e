"""Opens sheets of ../sheets in two spreadsheet programs and saves them again, so that the tests read what those write:
LibreOffice (Debian: libreoffice-calc) and openpyxl (Debian: python3-openpyxl). Run it here: python3 save.py

Where each dot is comes from ../sheets/meters.csv, as for the sheets themselves.
"""
import subprocess

import openpyxl

NAMES = ["15", "19", "23", "26", "30", "34", "36", "38"]

subprocess.run(["soffice", "--headless", "--convert-to", "xlsx:Calc MS Excel 2007 XML", "--outdir", "."] +
               ["../sheets/%s.xlsx" % n for n in NAMES], check=True)
for n in NAMES:
    subprocess.run(["mv", n + ".xlsx", n + "-libreoffice.xlsx"], check=True)
    book = openpyxl.load_workbook("../sheets/%s.xlsx" % n)
    for sheet in book:
        for cells in sheet.iter_rows():
            for cell in cells:  # numbers as a person types them
                try:
                    cell.value = float(cell.value) if "." in cell.value else int(cell.value)
                except (TypeError, ValueError):
                    pass
    book.save(n + "-openpyxl.xlsx")
