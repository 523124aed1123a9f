// What the office knows of a job: the form, and what is stated of it in short. See review.js, which opens it.

import { byId, h, said, when } from "/static/desk.js";

const idOf = (key) => `o-${key}`;

export const fieldsOf = (office) => office.groups.flatMap((group) => group.fields);

/** In one line, as the server writes it: rows are parted by semicolons. */
const inLine = (value) =>
  typeof value === "string" ? value : value.map((row) => Object.values(row).filter(Boolean).join(", ")).join("; ");

/** What is stated, by group; what differs from the office's file says so, and can give way to it. */
export function showOffice(office, withdraw) {
  const groups = office.groups
    .map((group) => [group, group.fields.filter((field) => field.value !== undefined || field.file !== undefined)])
    .filter(([, fields]) => fields.length);
  if (!groups.length) {
    byId("office-stated").replaceChildren(
      h("p", { class: "quiet" }, "Nothing is stated yet: customer, dates, claim and invoice go here."));
    return;
  }
  byId("office-stated").replaceChildren(
    h("dl", { class: "office" }, groups.flatMap(([group, fields]) => [
      h("div", { class: "group" }, h("dt", {}, group.title)),
      ...fields.map((field) => h("div", {}, h("dt", {}, field.label), h("dd", {}, ...standing(field, office.file, withdraw)))),
    ])));
}

function standing(field, file, withdraw) {
  const parts = [field.value === undefined ? "none" : said(inLine(field.value))];
  if (field.file !== undefined) {
    parts.push(h("span", { class: "why" }, ` Stated here; ${file} says `, said(field.file), field.since ? " since then" : "", ". "),
      h("button", { type: "button", class: "link", onclick: () => withdraw(field.key) }, `Let ${file} count`,
        h("span", { class: "unseen" }, ` for ${field.label}`)));
  }
  return parts;
}

// --- the form -----------------------------------------------------------------------------------

/** Fill the dialog's form, and put the focus on its first field. */
export function openOffice(office) {
  byId("office-said").textContent = "";
  byId("office-about").textContent = office.file
    ? `What is stated here counts before ${office.file}, which stays as it is. Each change is kept in the history.`
    : "Leave empty what isn’t known. Each change is kept in the history.";
  byId("office-body").replaceChildren(...office.groups.map((group) => h("fieldset", {},
    h("legend", {}, group.title),
    group.hint ? h("p", { class: "hint" }, group.hint) : null,
    h("div", { class: "fields" }, group.fields.filter((f) => f.shape !== "rows").map((f) => fieldRow(f, office.file))),
    ...group.fields.filter((f) => f.shape === "rows").map(rowsField))));
  byId("office").showModal();
  byId("office-body").querySelector("[data-entry]")?.focus();
}

function fieldRow(field, file) {
  const id = idOf(field.key);
  const own = [field.hint, field.by ? `Stated by ${field.by}, ${when(field.at)}` : "",
    field.file !== undefined ? `${file} says: ${field.file}` : ""].filter(Boolean);
  return h("p", {},
    h("label", { for: id }, field.label),
    control(field, id, field.value ?? "", `${own.length ? `${id}-hint ` : ""}${id}-wrong`, { "data-entry": field.key }),
    own.length ? h("span", { class: "hint", id: `${id}-hint` }, said(own.join(". "))) : null,
    h("span", { class: "wrong", id: `${id}-wrong` }));
}

function control(field, id, value, about, more) {
  const given = { ...more, id, "aria-describedby": about, "aria-required": field.needed ? "true" : undefined };
  if (field.shape === "choice") {
    const options = field.choices.map(([v, text]) => h("option", { value: v, selected: v === value }, text));
    if (value && !field.choices.some(([v]) => v === value)) options.push(h("option", { value, selected: true }, value));
    return h("select", given, h("option", { value: "" }, "not stated"), options);
  }
  if (field.shape === "long") {
    const area = h("textarea", { ...given, rows: "2", dir: "auto" });
    area.value = value;
    return area;
  }
  // a browser's own date field may put the month before the day: here the year stands first, as everywhere
  const mode = field.shape === "number" ? "decimal" : undefined;
  return h("input", { ...given, value, autocomplete: "off", dir: "auto", inputmode: mode });
}

/** A list: its rows, and one more to fill in. */
function rowsField(field) {
  const box = h("div", { class: "rows" });
  let last = 0;
  const add = (row = {}, focus = false) => {
    const at = last++;
    const line = h("fieldset", { "data-row": field.key }, h("legend", {}, h("span", { class: "unseen" }, `${field.label}, `), String(at + 1)),
      h("div", { class: "fields" }, field.columns.map((column) => {
        const id = idOf(`${field.key}.${at}.${column.key}`);
        return h("p", {},
          h("label", { for: id }, column.label, column.needed ? h("span", { class: "needed" }, " (needed)") : null),
          control(column, id, row[column.key] ?? "", `${column.hint ? `${id}-hint ` : ""}${id}-wrong`, { "data-column": column.key }),
          column.hint ? h("span", { class: "hint", id: `${id}-hint` }, column.hint) : null,
          h("span", { class: "wrong", id: `${id}-wrong` }));
      })),
      h("button", { type: "button", class: "plain", onclick: () => { more.focus(); line.remove(); } }, "Take out",
        h("span", { class: "unseen" }, ` ${field.label}, ${at + 1}`)));
    box.append(line);
    if (focus) line.querySelector("[data-column]").focus();
  };
  const more = h("button", { type: "button", class: "plain", onclick: () => add({}, true) }, "Add one",
    h("span", { class: "unseen" }, ` of ${field.label}`));
  for (const row of field.value ?? []) add(row);
  const wrong = h("p", { class: "wrong", id: `${idOf(field.key)}-wrong` });
  return h("div", { class: "list", "data-rows": field.key }, h("h3", {}, field.label), box, wrong, more);
}

/** What was changed in the form, and what it showed of that: {values, seen}. */
export function readOffice(office) {
  const [values, seen] = [{}, {}];
  for (const field of fieldsOf(office)) {
    const typed = field.shape === "rows" ? readRows(field) : byId(idOf(field.key)).value;
    const before = field.value ?? (field.shape === "rows" ? [] : "");
    if (JSON.stringify(typed) === JSON.stringify(before)) continue;
    values[field.key] = typed;
    if (field.value !== undefined) seen[field.key] = field.value;
  }
  return { values, seen };
}

const linesOf = (field) => [...document.querySelectorAll(`[data-row="${field.key}"]`)];

/** The rows that hold something, each with what it holds. */
function readRows(field) {
  return linesOf(field).map(readRow).filter((row) => Object.keys(row).length);
}

const readRow = (line) => Object.fromEntries(
  [...line.querySelectorAll("[data-column]")].map((input) => [input.dataset.column, input.value]).filter(([, value]) => value.trim()));

/** Say what is wrong at its field; the first of these gets the focus. */
export function markOffice(office, wrong) {
  for (const input of byId("office-body").querySelectorAll("[data-entry], [data-column]")) input.removeAttribute("aria-invalid");
  for (const place of byId("office-body").querySelectorAll(".wrong")) place.textContent = "";
  const rows = fieldsOf(office).filter((field) => field.shape === "rows");
  for (const [name, what] of Object.entries(wrong)) {
    const list = rows.find((field) => name.startsWith(`${field.key}.`));
    const [place, input] = list ? inRow(list, name.slice(list.key.length + 1)) : [byId(`${idOf(name)}-wrong`), byId(idOf(name))];
    if (place) place.textContent = what;
    input?.setAttribute("aria-invalid", "true");
  }
  byId("office-body").querySelector("[aria-invalid=true]")?.focus();
}

/** The server counts the rows that hold something, as `readRows` gives them. */
function inRow(field, name) {
  const [nth, column] = name.split(".");
  const line = linesOf(field).filter((one) => Object.keys(readRow(one)).length)[Number(nth)];
  const input = line?.querySelector(`[data-column="${column}"]`);
  return [input && byId(`${input.id}-wrong`), input];
}
