// Works a workbook out with HyperFormula.  SheetJS reads it; no stored value of a formula is used.
// node recalc_hyperformula.mjs FOLDER-of-modules workbook.xlsx: a JSON list of [sheet, row, column, value].
import fs from "node:fs";
import { createRequire } from "node:module";

const [folder, path] = process.argv.slice(2);
const require = createRequire(`${folder}/`);
const XLSX = require("xlsx");
const { HyperFormula } = require("hyperformula");

// What its guide gives for the habits of Excel.
const HABITS = {
  licenseKey: "gpl-v3",
  evaluateNullToZero: true,
  leapYear1900: true,
  useArrayArithmetic: true,
  nullDate: { year: 1899, month: 12, day: 31 },
  maxRows: 100000,
};

const book = XLSX.read(fs.readFileSync(path), { cellFormula: true });
const typed = (cell) => {
  if (!cell) return null;
  if (cell.f !== undefined) return `=${cell.f}`;
  return typeof cell.v === "string" ? `'${cell.v}` : (cell.v ?? null);
};
const rows = (sheet) => {
  if (!sheet["!ref"]) return [];
  const last = XLSX.utils.decode_range(sheet["!ref"]).e;
  return Array.from({ length: last.r + 1 }, (_, r) =>
    Array.from({ length: last.c + 1 }, (_, c) => typed(sheet[XLSX.utils.encode_cell({ r, c })])),
  );
};
const worked = HyperFormula.buildFromSheets(
  Object.fromEntries(book.SheetNames.map((name) => [name, rows(book.Sheets[name])])),
  HABITS,
);
const out = [];
for (const name of book.SheetNames) {
  const sheet = worked.getSheetId(name);
  for (const [at, cell] of Object.entries(book.Sheets[name])) {
    if (at.startsWith("!") || cell.f === undefined) continue;
    const { r: row, c: col } = XLSX.utils.decode_cell(at);
    const value = worked.getCellValue({ sheet, row, col });
    const error = value !== null && typeof value === "object";
    out.push([name, row + 1, col + 1, error ? value.value : value]);
  }
}
fs.writeSync(1, JSON.stringify(out));
