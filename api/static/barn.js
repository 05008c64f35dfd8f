// The barn's screen without the desk: the same answer from the same tables as valuation/answers/barn.py gives it, and
// finds kept until the desk is back. It stands in the page itself; nothing is loaded.
"use strict";
const carried = JSON.parse(document.getElementById("carried").textContent);
const { tables, words, names, locale } = carried;
const { fields, lines, builds } = tables.grid;
const $ = id => document.getElementById(id);
const form = $("find");

// Figures, as valuation/text/rounding.py and locale.py have them

const nearest = x => {
  const up = Math.round(x);
  return Math.abs(x % 1) === 0.5 && up % 2 ? up - 1 : up; // a half goes to the even one
};
function rounded(amount, width = Infinity, limit = "") {
  if (!Number.isFinite(amount) || amount === 0) return amount;
  const figures = width <= 0.1 * Math.abs(amount) ? 4 : 3;
  const least = Math.abs(amount) < 100 ? -2 : 0;
  const power = Math.max(Math.floor(Math.log10(Math.abs(amount))) - figures + 1, least);
  const shift = 10 ** -power;
  const steps = power <= 0 ? amount * shift : amount / 10 ** power;
  const whole = limit === "down" ? Math.floor(steps + 1e-9) : nearest(steps);
  return power <= 0 ? whole / shift : whole * 10 ** power;
}
function money(amount) {
  const size = Math.abs(amount);
  const [whole, rest] = size.toFixed(size < 100 && size % 1 ? 2 : 0).split(".");
  const parted = whole.replace(/\B(?=(\d{3})+$)/g, locale.thousands);
  return (amount < 0 ? "−" : "") + parted + (rest ? locale.decimal + rest : "");
}
const mostSaid = amount => money(rounded(amount, Infinity, "down"));
const filled = (key, values) => words[key].replace(/\{(\w+)\}/g, (_, name) => values[name]);

// The answer

function between(table, years, first, year, outlay = 0) {
  const after = years.findIndex(one => one >= year);
  if (years[after] === year || after === 0) return table[first + after];
  const share = (year - years[after - 1]) / (years[after] - years[after - 1]);
  const [low, high] = [after - 1, after].map(i => Math.log(table[first + i] + outlay));
  return Math.exp(low + share * (high - low)) - outlay;
}
const place = (some, told) => some.reduce((at, one) => at * one.levels.length + one.levels.indexOf(told[one.name]), 0);
const lineOf = told => lines.find(one => (one.name || names.another) === told[names.line]);
function verdict(asked, asFound, best) {
  if (asked === null) return "";
  if (asked <= rounded(Math.max(asFound, 0), Infinity, "down")) return "will_do";
  return best && asked <= rounded(best.most, Infinity, "down") ? "will_do_built" : "too_much";
}
function answerTo(told) {
  const line = lineOf(told);
  const untold = line ? [] : ["the line"];
  if (!told[names.year]) untold.push("the year");
  for (const one of tables.fields) if (!told[one.name]) untold.push(one.title.toLowerCase());
  if (untold.length) return { why: filled("untold", { names: untold.join(", ") }), untold };
  const year = Number(told[names.year]), [first, last] = [line.years[0], line.years.at(-1)];
  if (!(Number.isInteger(year) && year >= first && year <= last)) {
    return { why: filled("outside", { first, last }), untold: ["the year"] };
  }
  const at = place(fields, told) * line.years.length;
  const [median, low, high] = ["median", "low", "high"].map(one => between(line[one], line.years, at, year));
  const asFound = between(line.most, line.years, at, year, line.outlay);
  const others = fields.filter(one => one.name !== names.condition);
  const spot = place(others, told) * (last - first + 1) + year - first;
  const own = builds
    .filter(one => one.line === line.name && ["", told[names.condition] || ""].includes(one.condition))
    .map(plan => ({ plan, name: plan.name, most: plan.most[spot] }));
  const limits = own.filter(one => one.most !== null).sort((a, b) => b.most - a.most);
  const best = limits.length && limits[0].most > Math.max(asFound, 0) ? limits[0] : null;
  const rests = [best ? "rests" : limits.length ? "no_more" : "no_plan"];
  if (best && names.engine in best.plan.found && names.engine in told) {
    const [has, reckoned] = [told, best.plan.found].map(one => one[names.engine] !== names.missing);
    if (has && !reckoned) rests.push("engine_there");
    if (reckoned && !has) rests.push("engine_to_find");
  }
  const values = {
    asked: told.asked === null ? "" : money(told.asked),
    as_found: mostSaid(asFound),
    built: best ? mostSaid(best.most) : "",
    build: best ? best.name : "",
    goal: best ? best.plan.goal : line.goal,
    median: money(rounded(median, high - low)),
    low: money(rounded(low)),
    high: money(rounded(high)),
  };
  const key = best ? (asFound > 0 ? "both" : "built") : asFound > 0 ? "as_found" : "nothing";
  const word = verdict(told.asked, asFound, best);
  return {
    why: [word && filled(word, values), filled(key, values)].filter(Boolean).join(" "),
    worth: filled("worth", values),
    rests: rests.map(one => filled(one, values)),
    builds: limits.map(({ name, most }) => `${name}: ${most > 0 ? mostSaid(most) : "walk away"}`),
    median, low, high, asFound,
  };
}

// The screen

function askedAmount(text) {
  const bare = text.trim().split(locale.thousands).join("").replace(/[\s'’]/g, "").replace(locale.decimal, ".");
  return bare === "" ? null : /^\d+(\.\d+)?$/.test(bare) ? Number(bare) : NaN;
}
function toldNow() {
  const told = Object.fromEntries([...new FormData(form)].filter(([, value]) => typeof value === "string"));
  return { ...told, asked: askedAmount(told.asked) };
}
function show() {
  const told = toldNow(), wrong = Number.isNaN(told.asked), line = lineOf(told);
  const answer = answerTo(wrong ? { ...told, asked: null } : told);
  $("why").textContent = wrong ? words.no_amount : answer.why;
  $("worth").textContent = answer.worth || "";
  $("rests").textContent = (answer.rests || []).join(" ");
  $("builds").replaceChildren(...(answer.builds || []).map(text => Object.assign(document.createElement("li"), { textContent: text })));
  $("span").textContent = line ? `${line.years[0]} to ${line.years.at(-1)}` : "";
  for (const one of tables.fields) {
    const chosen = one.choices.find(choice => choice.name === told[one.name]);
    document.querySelector(`[data-meaning="${CSS.escape(one.name)}"]`).textContent = chosen ? chosen.meaning : "";
  }
  return wrong ? { untold: ["the price asked"] } : answer;
}
function step(by) {
  const line = lineOf(toldNow()), span = line ? [line.years[0], line.years.at(-1)] : [Number($("year").min), Number($("year").max)];
  const year = Number($("year").value) || Math.round((span[0] + span[1]) / 2) - by;
  $("year").value = Math.min(Math.max(year + by, span[0]), span[1]);
  show();
}
function age() {
  const [year, month, day] = tables.as_of.split("-").map(Number);
  const days = Math.round((new Date().setHours(0, 0, 0, 0) - new Date(year, month - 1, day)) / 86400000);
  $("age").textContent = days <= 0 ? "made today" : days === 1 ? "a day old" : `${days} days old`;
}

// Finds

const SHELF = "barn finds", ARRIVED = "barn arrived", TOO_LONG = 1500000; // characters of an address: Chromium takes 2 million
let finds = read(SHELF);
let unkept = false; // a browser that keeps nothing for a saved page
function read(shelf) {
  try {
    const found = JSON.parse(localStorage.getItem(shelf) || "[]");
    return Array.isArray(found) ? found.filter(one => typeof one?.key === "string" && typeof one.attributes === "object") : [];
  } catch {
    return [];
  }
}
function write() {
  try {
    localStorage.setItem(SHELF, JSON.stringify(finds));
    return "";
  } catch (error) {
    unkept = true;
    return error.name === "QuotaExceededError" ? "full" : "none";
  }
}
const newKey = () =>
  [...crypto.getRandomValues(new Uint8Array(carried.key.length))]
    .map(one => carried.key.characters[one % carried.key.characters.length])
    .join("");
const today = () => new Date(Date.now() - new Date().getTimezoneOffset() * 60000).toISOString().slice(0, 10);
async function picture() {
  const file = $("photo").files[0];
  if (!file) return "";
  const bitmap = await createImageBitmap(file, { imageOrientation: "from-image" });
  const scale = Math.min(1, 1280 / Math.max(bitmap.width, bitmap.height));
  const canvas = Object.assign(document.createElement("canvas"), { width: Math.round(bitmap.width * scale), height: Math.round(bitmap.height * scale) });
  canvas.getContext("2d").drawImage(bitmap, 0, 0, canvas.width, canvas.height);
  return canvas.toDataURL("image/jpeg", 0.72).split(",")[1];
}
async function keep() {
  const answer = show(), told = toldNow();
  if (answer.untold) {
    $("answer").scrollIntoView();
    return;
  }
  const line = lineOf(told), attributes = { [names.year]: Number(told[names.year]) };
  if (line.name) attributes[names.line] = line.name;
  for (const one of fields) attributes[one.name] = told[one.name];
  let photo = "", said = "";
  try {
    photo = await picture();
  } catch {
    said = "The photograph cannot be read; the find is kept without it. ";
  }
  const find = { key: newKey(), title: `${line.name || "Another line"} ${told[names.year]}, ${fields.map(one => told[one.name]).join(", ")}`,
    attributes, found_on: today(), asked: told.asked, remark: told.remark.trim(), photo };
  finds.push(find);
  if (write() === "full") {
    find.photo = "";
    said += write() ? "This browser has no room left: send what is kept, then keep this find again. " : "There is no room for the photograph; the find is kept without it. ";
  }
  for (const id of ["photo", "remark"]) $(id).value = "";
  if (!carried.desk) list(`${said}Kept on this telephone; it goes to the desk now.`); // which may take a while to say that it does not answer
  const last = await send();
  if (last && finds.every(one => one.vehicle)) location.assign(`/vehicles/${last.vehicle}`);
  else list(said + (carried.desk ? "Kept in this page until you send it to the desk." : ""));
}
let sending = false;
async function send() {
  if (carried.desk || sending) return null;
  sending = true;
  let last = null, said = "";
  try {
    for (const find of finds.filter(one => !one.vehicle)) {
      const { key, attributes, found_on, asked, remark, photo } = find;
      const answer = await fetch("/api/v1/barn/finds?wait=30", {
        method: "POST", headers: { "Content-Type": "application/json" }, signal: AbortSignal.timeout(40000),
        body: JSON.stringify({ key, attributes, found_on, asked, remark, photo }),
      });
      const told = await answer.json();
      if (answer.status === 201) {
        Object.assign(find, { vehicle: told.vehicle, photo: "", why: told.without });
        last = find;
      } else if (answer.status === 202 || answer.status === 503) {
        said = "The desk is at work; the find goes to it in a moment.";
      } else if (answer.status === 401) {
        said = "The desk asks you to sign in before it takes finds.";
        break;
      } else find.why = told.detail;
    }
  } catch {
    said = "The desk is out of reach. Finds go to it as soon as it is back.";
  }
  sending = false;
  write();
  list(said);
  return last;
}
function list(said = "") {
  $("kept").hidden = !finds.length && !said;
  $("said").textContent = said + (unkept ? " This browser keeps nothing when the page is closed: send the finds before." : "");
  $("kept").querySelector("ul").replaceChildren(...finds.map(item));
  $("hand-over").hidden = !carried.desk || !finds.length;
  if (carried.desk && finds.length) handOver();
}
function item(find) {
  const li = document.createElement("li"), open = document.createElement("a"), away = document.createElement("button");
  li.append(find.title, find.asked === null ? "" : `, asked ${money(find.asked)}`, find.why ? `. ${find.why} ` : ". ");
  if (find.vehicle && !carried.desk) {
    Object.assign(open, { href: `/vehicles/${find.vehicle}`, textContent: "In the shop: open it" });
    li.append(open);
  } else li.append(find.handed ? "Handed over." : "Not at the desk yet.");
  Object.assign(away, { type: "button", textContent: find.vehicle || find.handed ? "Take off the list" : "Throw away" });
  away.setAttribute("aria-label", `${away.textContent}: ${find.title}`);
  away.addEventListener("click", () => {
    finds = finds.filter(one => one !== find);
    write();
    list();
  });
  li.append(away);
  return li;
}
function handOver() {
  let some = finds.filter(one => !one.handed);
  if (!some.length) some = finds;
  const packed = list => encodeURIComponent(JSON.stringify(list.map(({ handed, why, ...find }) => find)));
  while (some.length > 1 && packed(some).length > TOO_LONG) some = some.slice(0, -1);
  const link = $("hand-over").querySelector("a");
  link.href = `${carried.desk}/static/barn-receive.html#${packed(some)}`;
  link.textContent = some.length === 1 ? "Send the find to the desk" : `Send ${some.length} finds to the desk`;
  link.onclick = () => setTimeout(() => {
    for (const find of some) find.handed = true;
    write();
    list();
  });
}
function arrived() {
  const come = carried.desk ? [] : read(ARRIVED);
  $("arrived").hidden = !come.length;
  $("arrived").querySelector("p").textContent = come.map(one => String(one.title)).join("; ");
  const done = take => {
    if (take) finds.push(...come.filter(one => !finds.some(own => own.key === one.key)));
    localStorage.removeItem(ARRIVED);
    write();
    arrived();
    if (take) send();
  };
  $("take").onclick = () => done(true);
  $("leave").onclick = () => done(false);
  if (come.length) $("arrived").scrollIntoView();
}

document.documentElement.classList.add("scripted");
form.addEventListener("input", show);
form.addEventListener("submit", event => {
  event.preventDefault();
  keep();
});
for (const button of form.querySelectorAll("[data-step]")) button.addEventListener("click", () => step(Number(button.dataset.step)));
form.addEventListener("keydown", event => {
  if (event.key === "Enter" && event.target.matches("input:not([type=radio])")) event.preventDefault(); // a key too early keeps no find
});
show();
age();
list();
arrived();
if (!carried.desk) {
  if (finds.some(one => !one.vehicle)) send();
  addEventListener("online", () => send());
  addEventListener("visibilitychange", () => document.hidden || send());
  setInterval(() => finds.some(one => !one.vehicle) && send(), 5000);
  if (navigator.serviceWorker) {
    navigator.serviceWorker.register("/barn/worker.js", { scope: "/barn" }).then(() => { $("installed").hidden = false; }, () => {});
  }
}
