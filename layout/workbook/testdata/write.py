# Writes openpyxl.xlsx, a workbook by a program that is not the library which reads it: python3 write.py
# (openpyxl 3.0.9, Debian's python3-openpyxl). Invented data.
import datetime
import sys

sys.path.append("/usr/lib/python3/dist-packages")
import openpyxl

book = openpyxl.Workbook()
dots = book.active
dots.title = "Dots, all"
dots["A1"] = "Two Lanterns"
dots.merge_cells("A1:C1")
dots.append([])
dots.append(["Player", "Set 1", "Set 2", "Steps", "Shown"])
dots.append(["Tpt 1", "S1 2 outside 45\n4 behind front hash", "on 50; on FH", 2.5, 2.25])
dots["E4"].number_format = "0"
dots.append(["Tuba \u00fc", None, "  S2 on 40; on BH ", 0.1 + 0.2, 0.5])
dots["E5"].number_format = "0%"
dots.append(["Date", datetime.date(2026, 1, 2), "=B4", "=1/0", True])
dots.append(["Merged", "both", None, "007", "1,5"])
dots.merge_cells("B7:C7")
dots["D8"] = 3
dots["D8"].number_format = '0" steps"'
book.create_sheet("Empty")
sets = book.create_sheet("Sets")
sets.append(["set", "counts"])
sets.append([1, 0])
sets.append([2, 16])
book.create_chartsheet("Chart")
book.save("openpyxl.xlsx")
