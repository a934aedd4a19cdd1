// Opens a workbook with a library and saves it.
// node save_again.mjs FOLDER-of-modules exceljs|sheetjs in.xlsx out.xlsx
import { createRequire } from "node:module";

const [folder, library, from, to] = process.argv.slice(2);
const require = createRequire(`${folder}/`);
const SAVE = {
  async exceljs() {
    const { Workbook } = require("exceljs");
    const book = new Workbook();
    await book.xlsx.readFile(from);
    await book.xlsx.writeFile(to);
  },
  async sheetjs() {
    const XLSX = require("xlsx");
    const book = XLSX.readFile(from, { cellFormula: true, cellStyles: true, cellNF: true, bookDeps: true });
    XLSX.writeFile(book, to, { compression: true, cellStyles: true });
  },
};
await SAVE[library]();
