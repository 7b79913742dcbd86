import { UNITS } from './table.js';
import type { Quantity, Unit } from './unit.js';

/** Longest text that is looked at: no unit is longer, and hostile cells can be a megabyte. */
const LONGEST = 48;

function isAscii(text: string): boolean {
  for (let i = 0; i < text.length; i++) if (text.charCodeAt(i) > 127) return false;
  return true;
}

/** A degree sign read in the wrong code page, and other look-alikes, mended. */
export function mendSigns(text: string): string {
  if (isAscii(text)) return text;
  return text
    .replaceAll('Â°', '°')
    .replaceAll('Ã‚Â°', '°')
    .replaceAll('Âº', '°')
    .replaceAll('Â²', '²')
    .replaceAll('Â³', '³')
    .replaceAll('Â·', '·')
    .replaceAll('Âµ', 'µ')
    .replaceAll('\u03bc', 'µ')
    .replaceAll('\u00ba', '°')
    .replaceAll('\u02da', '°')
    .replaceAll('\u2103', '°C')
    .replaceAll('\u2109', '°F')
    .replaceAll('\u2212', '-')
    .replaceAll('\u2013', '-')
    .replaceAll('\ufffd', '°');
}

/** Case-keeping form: signs mended, brackets and blanks at the ends removed. */
function trimmed(text: string): string {
  let out = mendSigns(text.slice(0, LONGEST)).trim();
  const pairs: Readonly<Record<string, string>> = { '[': ']', '(': ')', '{': '}', '<': '>' };
  while (out.length >= 2 && pairs[out[0]!] === out[out.length - 1]) out = out.slice(1, -1).trim();
  return out;
}

/** Lower case without blanks, dots, asterisks, underscores; superscripts as digits. */
function folded(text: string): string {
  let out = '';
  for (const sign of text.toLowerCase()) {
    if (sign === '²') out += '2';
    else if (sign === '³') out += '3';
    else if (!' .\u00a0\u202f_·*•×⋅^'.includes(sign)) out += sign;
  }
  return out;
}

/** Spellings in which case decides: folding would make them equal to something else. */
const BY_CASE: ReadonlyMap<string, string> = new Map([
  ['G', 'gn'],
  ['mPa', 'MPa'], // nobody logs millipascal
  ['M', 'm'],
  ['S', 's'],
  ['MS', 'ms'],
  ['H', 'h'],
]);

function index(): ReadonlyMap<string, readonly Unit[]> {
  const map = new Map<string, Unit[]>();
  for (const unit of UNITS) {
    for (const spelling of [unit.id, ...unit.spellings]) {
      const key = folded(mendSigns(spelling));
      const list = map.get(key) ?? [];
      if (!list.includes(unit)) list.push(unit);
      map.set(key, list);
    }
  }
  return map;
}

const INDEX = index();
const BY_ID: ReadonlyMap<string, Unit> = new Map(UNITS.map((unit) => [unit.id, unit]));

/** Words behind (or glued to) a pressure unit that say what it is measured against. */
const AGAINST: readonly (readonly [string, boolean])[] = [
  ['absolute', false],
  ['abs', false],
  ['gauge', true],
  ['gage', true],
  ['rel', true],
  ['relative', true],
  ['g', true],
  ['a', false],
];

function withGauge(key: string): readonly Unit[] {
  const bare = key.replaceAll(/[()[\]{},]/g, '');
  for (const [word, gauge] of AGAINST) {
    if (!bare.endsWith(word)) continue;
    const units = INDEX.get(bare.slice(0, -word.length).replace(/-$/, ''))?.filter(
      (unit) => unit.quantity === 'pressure',
    );
    if (units !== undefined && units.length > 0) return units.map((unit) => Object.freeze({ ...unit, gauge }));
  }
  return [];
}

/**
 * Every unit that a spelling can mean, most usual first; empty when none. `g` is gram and standard gravity, `kn` knot.
 * Pressure spellings such as `psig`, `bar abs` carry `gauge`.
 */
export function findUnits(spelling: string): readonly Unit[] {
  const text = trimmed(spelling);
  if (text === '') return [BY_ID.get('1')!];
  const own = BY_ID.get(text);
  const forced = BY_CASE.get(text);
  const key = folded(text);
  const found = [...(INDEX.get(key) ?? [])];
  const first = own ?? (forced === undefined ? undefined : BY_ID.get(forced));
  if (first !== undefined) return [first, ...found.filter((unit) => unit !== first)];
  if (found.length > 0) return found;
  return withGauge(key);
}

/**
 * The unit that a spelling means: any case, usual abbreviations, mojibake degree signs, brackets. An empty cell, `-` and
 * `[]` are the unit `1`. `quantity` settles spellings with two meanings (`g`). Undefined when unknown.
 */
export function findUnit(spelling: string, quantity?: Quantity): Unit | undefined {
  const units = findUnits(spelling);
  return quantity === undefined ? units[0] : units.find((unit) => unit.quantity === quantity);
}

/** The unit with exactly this id. */
export function unitById(id: string): Unit | undefined {
  return BY_ID.get(id);
}
