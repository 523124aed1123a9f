/**
 * Says back what must be right to the digit: fault codes, readings, part numbers. Never while the microphone is
 * on, for it would be heard as a statement.
 */

const DIGITS = ["zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine"];
// ICAO Annex 10, volume II, 5.2.1.3
const LETTERS =
  "alfa bravo charlie delta echo foxtrot golf hotel india juliett kilo lima mike november oscar papa quebec romeo sierra tango uniform victor whiskey x-ray yankee zulu".split(
    " ",
  );
const SIGNS = { ".": "point", "-": "dash", "/": "slash" };

/** @typedef {Record<string, string>} Units  how each is said, by UCUM code */

/** @param {string} character */
const character = (character) => {
  if (/\d/.test(character)) return DIGITS[Number(character)];
  const letter = character.toUpperCase().charCodeAt(0) - 65;
  return LETTERS[letter] ?? SIGNS[/** @type {keyof typeof SIGNS} */ (character)] ?? "";
};

/**
 * Each group of characters on its own, with a pause after it: "7K3 290" → "seven kilo three, two nine zero".
 * @param {string} text
 */
export const spelled = (text) =>
  text
    .trim()
    .split(/\s+/)
    .map((group) => [...group].map(character).filter(Boolean).join(" "))
    .filter(Boolean)
    .join(", ");

/** @param {string} value  a decimal, as "-60.20" */
export const digits = (value) =>
  [...value.replace(/^[-−]/, "m")]
    .map((sign) => (sign === "m" ? "minus" : character(sign)))
    .filter(Boolean)
    .join(" ");

/** "SPN 102 FMI 18" → "S P N one zero two, F M I one eight"; "P0299" → "papa zero two nine nine". @param {string} code */
const code = (code) =>
  code
    .split(/\s+/)
    .map((group) => (/^[A-Za-z]+$/.test(group) ? [...group.toUpperCase()].join(" ") : `${spelled(group)},`))
    .join(" ")
    .replace(/,$/, "");

/**
 * What is said of a fact; null for those that aren't said.
 * @param {any} fact @param {Units} units @returns {string | null}
 */
export const spoken = (fact, units) => {
  if (fact.status === "rejected") return null;
  const doubt = fact.status === "check" ? ". Please check" : "";
  const said = fact.fields ?? {};
  if (fact.kind === "fault_code") return `Code ${code(said.code)}${said.state ? `, ${said.state}` : ""}${doubt}`;
  if (fact.kind === "measurement") {
    const where = [said.quantity, said.subject].filter(Boolean).join(", ");
    return `${where}: ${digits(said.value)} ${units[said.unit] ?? said.unit ?? ""}${doubt}`;
  }
  if (fact.kind === "part" && (said.number || said.serial)) {
    const number = said.number ? `, part number, ${spelled(said.number)}` : "";
    const serial = said.serial ? `, serial number, ${spelled(said.serial)}` : "";
    return `${said.name}${number}${serial}${doubt}`;
  }
  return null;
};

export class ReadBack {
  /** @param {Units} units @param {() => boolean} listening  true while the microphone is on */
  constructor(units, listening) {
    this.units = units;
    this.listening = listening;
    this.on = true;
    /** @type {string[]} */
    this.queue = [];
    /** @type {string[]} */
    this.last = [];
    /** @type {SpeechSynthesisUtterance | null} kept, or some browsers forget to say when it has ended */
    this.saying = null;
  }

  get possible() {
    return "speechSynthesis" in globalThis;
  }

  /** @param {boolean} on */
  turn(on) {
    this.on = on;
    if (!on) {
      this.queue = [];
      this.hush();
    }
  }

  /** @param {any[]} facts  newly read */
  add(facts) {
    const said = facts.map((fact) => spoken(fact, this.units)).filter((text) => text !== null);
    if (!said.length) return;
    this.last = said;
    if (this.on) this.queue.push(...said);
    this.next();
  }

  again() {
    this.queue = [...this.last];
    this.next();
  }

  /** What is being said is broken off, and said anew after the recording. */
  hush() {
    if (!this.possible || !this.saying) return;
    this.queue.unshift(this.saying.text);
    this.saying = null;
    speechSynthesis.cancel();
    if (!this.on) this.queue = [];
  }

  next() {
    if (!this.possible || this.saying || this.listening() || !this.queue.length) return;
    const saying = new SpeechSynthesisUtterance(this.queue.shift());
    saying.lang = "en";
    saying.rate = 0.9; // beside a running engine
    saying.onend = saying.onerror = () => {
      if (this.saying !== saying) return;
      this.saying = null;
      this.next();
    };
    this.saying = saying;
    speechSynthesis.speak(saying);
  }
}
