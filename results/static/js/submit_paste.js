// Cells copied from a spreadsheet into the grid, from the cell they are pasted into; what is not taken is said.
"use strict";
(() => {
  const shared = window.submitForm;
  if (!shared || !shared.grid) return;
  const { form, grid } = shared;
  const SHOWN = 6;

  // The cells of what was copied; a quoted cell may hold line breaks and tabs of its own.
  function cellsOf(text) {
    const rows = [[""]];
    let quoted = false;
    const end = text.replace(/[\r\n]+$/, "").replace(/\r\n?/g, "\n");
    for (let at = 0; at < end.length; at += 1) {
      const sign = end[at];
      const row = rows[rows.length - 1];
      if (quoted && sign === '"' && end[at + 1] === '"') { row[row.length - 1] += sign; at += 1; }
      else if (quoted && sign === '"') quoted = false;
      else if (quoted) row[row.length - 1] += sign;
      else if (sign === '"' && row[row.length - 1] === "" && end.indexOf('"', at + 1) > 0 && /[\t\n]/.test(end.slice(at))) quoted = true;
      else if (sign === "\t") row.push("");
      else if (sign === "\n") rows.push([""]);
      else row[row.length - 1] += sign;
    }
    return rows.map((row) => row.map((one) => one.trim()));
  }

  // In a list the only choice that begins with the text; another text is added to it, for the server to speak of.
  function put(input, text) {
    if (input.tagName !== "SELECT") { input.value = text; return; }
    const short = text.toLowerCase();
    const options = [...input.options].filter((one) => one.value);
    // A list may number its choices: 1 Bond line.
    const names = (one) => [one.value, one.label, one.label.replace(/^\d+ /, "")].map((name) => name.toLowerCase());
    const exact = options.find((one) => names(one).includes(short));
    const begins = options.filter((one) => names(one).some((name) => name.startsWith(short)));
    let found = exact || (begins.length === 1 ? begins[0] : null);
    if (!found) {
      found = new Option(text, text);
      found.dataset.typed = "";
      input.add(found);
    }
    input.value = found.value;
  }

  function fill(start, rows) {
    const columns = grid.ORDER.slice(grid.ORDER.indexOf(start.column));
    const leftOut = [];
    let added = 0;
    let over = 0;
    let filled = 0;
    for (const [number, row] of rows.entries()) {
      const at = start.row + number;
      while (grid.rowsOf(start.at) <= at && grid.addRow(start.at)) added += 1;
      if (grid.rowsOf(start.at) <= at) {
        leftOut.push(`rows ${number + 1} to ${rows.length}: the form holds ${grid.MOST} specimens of a series, send a spreadsheet for more`);
        break;
      }
      filled += 1;
      for (const [index, text] of row.entries()) {
        const input = columns[index] && grid.cell(start.at, at, columns[index]);
        if (input && text) {
          if (input.value && input.value !== text && columns[index] !== "outcome") over += 1;
          put(input, text);
        } else if (text) leftOut.push(`“${text.slice(0, 40)}” in row ${number + 1}, column ${index + 1}: there is no column for it`);
      }
    }
    return { leftOut, added, over, filled, wide: Math.min(Math.max(...rows.map((row) => row.length)), columns.length) };
  }

  function tell(at, columns, { leftOut, added, over, filled, wide }) {
    const words = [`${filled} row${filled === 1 ? "" : "s"} filled in${added ? `, ${added} of them new` : ""}, read as ${columns.slice(0, wide).map((name) => name.replace("_", " ")).join(", ")}.`];
    if (over) words.push(`${over} value${over === 1 ? "" : "s"} that stood there ${over === 1 ? "was" : "were"} replaced.`);
    if (leftOut.length) {
      const more = leftOut.length > SHOWN ? `; and ${leftOut.length - SHOWN} more` : "";
      words.push(`Left out: ${leftOut.slice(0, SHOWN).join("; ")}${more}.`);
    }
    const box = form.querySelector(`[data-grid="${at}"] [data-pasted]`);
    box.textContent = words.join(" ");
    box.classList.toggle("note", leftOut.length > 0);
    box.classList.toggle("doubt", leftOut.length > 0);
  }

  form.addEventListener("paste", (event) => {
    const start = grid.placed(event.target);
    if (!start || !grid.ORDER.includes(start.column)) return;
    let rows = cellsOf(event.clipboardData.getData("text"));
    if (rows.length < 2 && rows[0].length < 2) return; // one cell: as anywhere else
    event.preventDefault();
    const titles = rows.length > 1 && start.column === "reading" && rows[0][0] && !/\d/.test(rows[0][0]) ? rows[0] : null;
    if (titles) rows = rows.slice(1);
    const done = fill(start, rows);
    if (titles) done.leftOut.unshift(`the first row, which looks like headings (${titles.join(", ").slice(0, 80)})`);
    tell(start.at, grid.ORDER.slice(grid.ORDER.indexOf(start.column)), done);
    shared.typed();
  });
})();
