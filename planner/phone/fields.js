// Fields to write into, made from the columns of the actuals sheet.
const words = {
  done: "Done?", gal: "Gallons", start: "Start", end: "End", wind_mph: "Wind, mph", wind_from: "Wind from",
  temperature_f: "Temperature, °F", sign: "Sign is up?", notice: "Notice given?", neighbors: "Neighbors told?", note: "Note", area_ft2: "Lawn treated, ft²",
  applicator: "Who applied", license: "License number", lot: "Lot numbers", level: "Level at the mark, gal", sure: "The figures are right",
};
const numbers = ["gal", "wind_mph", "temperature_f", "area_ft2", "level"];
const make = (name, attributes = {}, ...children) => {
  const one = document.createElement(name);
  for (const [key, value] of Object.entries(attributes)) if (value !== undefined) one.setAttribute(key, value);
  one.append(...children);
  return one;
};

function outside(row, column, value) {
  const [least, most] = column === "wind_mph" ? row.wind ?? [] : column === "temperature_f" ? row.heat ?? [] : [];
  const unit = column === "wind_mph" ? "mph" : "°F", whose = row.windBy && unit === "mph" ? row.windBy : "the label's";
  if (typeof most === "number" && value > most) return `Over ${whose} ${most} ${unit}: do not spray.`;
  if (typeof least === "number" && value < least) return `Under ${whose} ${least} ${unit}: do not spray.`;
  return "";
}

// Columns whose written reading forbids the row's spraying.
const forbidding = key => ["wind_mph", "temperature_f"].filter(column => typeof cellsOf(key)[column] === "number" && outside(rowOf.get(key), column, cellsOf(key)[column]));

function numberField(row, column, save) {
  const liquid = ["gal", "level"].includes(column), [least, all] = told.bounds[liquid ? "gal" : column];
  const most = liquid ? row.full ?? all : all;
  const input = make("input", { inputmode: column === "temperature_f" ? "text" : "decimal", autocomplete: "off", enterkeyhint: "done", "data-column": column });
  const said = make("span", { class: "told", role: "alert" });
  const value = cellsOf(row.key)[column];
  if (value !== undefined && value !== null) input.value = String(value);
  const look = () => {
    const text = input.value.trim().replace(",", ".");
    const number = Number(text);
    const bad = text !== "" && (!Number.isFinite(number) || number < least || number > most);
    input.setAttribute("aria-invalid", bad);
    said.textContent = bad ? `A number from ${least} to ${most}.` : text === "" ? "" : outside(row, column, number);
    return bad || text === "" ? null : number;
  };
  input.addEventListener("input", look);
  input.addEventListener("change", () => { const number = look(); if (number !== null) save(number); });
  look();
  const field = make("div", { class: "field" }, make("label", {}, make("span", {}, words[column]), input), said);
  if (column === "gal" && row.what !== "left") {
    const alike = make("button", { type: "button", class: "alike" }, `${row.gal} gal, as planned`);
    alike.addEventListener("click", () => { input.value = String(row.gal); look(); save(row.gal); });
    field.append(alike);
  }
  return field;
}

function choiceField(row, column, save) {
  const legend = make("legend", {}, words[column]);
  const name = `${row.key} ${column} ${newId()}`;
  const value = cellsOf(row.key)[column];
  const two = make("div", { class: "two" });
  for (const [answer, text] of [[true, "Yes"], [false, "No"]]) {
    const input = make("input", { type: "radio", name, "data-column": column, value: text });
    input.checked = value === answer;
    input.addEventListener("change", () => save(answer));
    two.append(make("label", {}, input, make("span", {}, text)));
  }
  return make("fieldset", { class: "field" }, legend, two);
}

function windField(row, column, save) {
  const select = make("select", { "data-column": column }, make("option", { value: "" }, "choose"), ...told.windFrom.map(point => make("option", { value: point }, point)));
  select.value = cellsOf(row.key)[column] ?? "";
  select.addEventListener("change", () => save(select.value || null));
  return make("label", { class: "field" }, make("span", {}, words[column]), select);
}

function textField(row, column, save) {
  const time = column === "start" || column === "end";
  const input = make("input", { type: time ? "time" : "text", autocomplete: "off", "data-column": column });
  const value = cellsOf(row.key)[column];
  if (value !== undefined && value !== null) input.value = time ? `${String(Math.floor(value / 60)).padStart(2, "0")}:${String(Math.round(value) % 60).padStart(2, "0")}` : value;
  input.addEventListener("change", () => {
    const [hours, minutes] = input.value.split(":").map(Number);
    save(time ? (input.value ? hours * 60 + minutes : null) : input.value.trim());
  });
  return make("label", { class: "field" }, make("span", {}, words[column]), input);
}

// Fields of one row; keys: rows that get the same answer (one reading counts for every order of a stop).
function fields(keys, columns) {
  const row = rowOf.get(keys[0]);
  return columns.map(column => {
    const save = value => { for (const key of keys) if (cellsOf(key)[column] !== value) tick(key, { [column]: value }); };
    if (numbers.includes(column)) return numberField(row, column, save);
    if (["sign", "notice", "neighbors", "done", "sure"].includes(column)) return choiceField(row, column, save);
    return column === "wind_from" ? windField(row, column, save) : textField(row, column, save);
  });
}

// What stands in a field is kept even when the crew presses a button without leaving it.
function leaveField() {
  if (document.activeElement instanceof HTMLInputElement) document.activeElement.dispatchEvent(new Event("change"));
}
