import { mendSigns } from '../units/spelling.js';
import { SYNONYMS } from './words.js';

/** Labels are cut here first: no heading needs more, and hostile ones are a megabyte long. */
export const LONGEST_LABEL = 200;

/** Lower-case letters and digits of one character's base letter; everything else is a separator. */
function plain(text: string): string {
  if (isAscii(text)) return text;
  return text.normalize('NFKD').replaceAll(/\p{M}/gu, '');
}

function isAscii(text: string): boolean {
  for (let i = 0; i < text.length; i++) if (text.charCodeAt(i) > 127) return false;
  return true;
}

function isUpper(c: string): boolean {
  return c <= '\u007f' ? c >= 'A' && c <= 'Z' : c !== c.toLowerCase();
}
function isDigit(c: string): boolean {
  return c >= '0' && c <= '9';
}
function isLetter(c: string): boolean {
  if (c <= '\u007f') return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z');
  return c.toLowerCase() !== c.toUpperCase();
}

/** Chunks of letters and digits, cut at camel-case humps; digits stay with their letters. Linear in the length. */
function chunks(text: string): string[] {
  const out: string[] = [];
  let current = '';
  const push = (): void => {
    if (current !== '') out.push(current);
    current = '';
  };
  for (let i = 0; i < text.length; i++) {
    const c = text[i]!;
    if (!isLetter(c) && !isDigit(c)) {
      push();
      if (c === '%') out.push('%');
      continue;
    }
    const before = current === '' ? '' : current[current.length - 1]!;
    const next = text[i + 1] ?? '';
    if (isLetter(c) && isUpper(c) && before !== '') {
      const hump = isLetter(before) && !isUpper(before);
      const after = text[i + 2] ?? '';
      const plural = next === 's' && !(isLetter(after) && !isUpper(after)); // DTCs
      const endOfAcronym = isLetter(before) && isUpper(before) && isLetter(next) && !isUpper(next) && !plural;
      if (hump || endOfAcronym) push();
    }
    current += c;
  }
  push();
  return out.map((chunk) => chunk.toLowerCase());
}

/** Words whose digit belongs to them. */
const WITH_DIGIT = [
  'ho2s',
  'o2s',
  'ho2',
  'wbo2',
  'co2',
  'no2',
  'ch4',
  'o2',
  'stso2ft',
  'lgso2ft',
  'obd2',
  '4wd',
] as const;

function splitDigits(chunk: string): string[] {
  for (const word of WITH_DIGIT) {
    if (!chunk.startsWith(word)) continue;
    const rest = chunk.slice(word.length);
    const head = word === 'stso2ft' ? 'stso' : word === 'lgso2ft' ? 'lgso' : word === '4wd' ? 'awd' : word;
    return rest === '' ? [head] : [head, ...splitDigits(rest)];
  }
  return chunk.match(/\d+|[^\d]+/g) ?? [];
}

type Phrases = readonly (readonly [readonly string[], readonly string[]])[];

/** Phrases that stand for other words, in order of appearance. */
const PHRASES: Phrases = [
  [['torque', 'converter'], ['converter']],
  [['per', 'cent'], ['percent']],
  [
    ['a', 'f', 'ratio'],
    ['air', 'fuel', 'ratio'],
  ],
  [
    ['a', 'f'],
    ['air', 'fuel', 'ratio'],
  ],
  [
    ['a', 'c'],
    ['air', 'conditioning'],
  ],
  [
    ['air', 'con'],
    ['air', 'conditioning'],
  ],
  [
    ['b', 'voltage'],
    ['battery', 'voltage'],
  ],
  [
    ['4', 'wheel', 'drive'],
    ['all', 'wheel', 'drive'],
  ],
  [['catalytic', 'converter'], ['catalyst']],
  [
    ['over', 'rpm'],
    ['over', 'rev'],
  ],
];

/** Phrases by their first word, in order. Thousands of wordings are read at the start of every run. */
function byFirstWord(phrases: Phrases): ReadonlyMap<string, Phrases> {
  const index = new Map<string, Phrases[number][]>();
  for (const phrase of phrases) {
    const first = phrase[0][0]!;
    const known = index.get(first);
    if (known === undefined) index.set(first, [phrase]);
    else known.push(phrase);
  }
  return index;
}

function replacePhrases(tokens: readonly string[], phrases: ReadonlyMap<string, Phrases>): string[] {
  const out: string[] = [];
  for (let i = 0; i < tokens.length; i++) {
    const hit = phrases.get(tokens[i]!)?.find(([from]) => from.every((word, k) => tokens[i + k] === word));
    if (hit === undefined) out.push(tokens[i]!);
    else {
      out.push(...hit[1]);
      i += hit[0].length - 1;
    }
  }
  return out;
}

/** `EQ_RAT` is the commanded ratio, `EQ_RATxy` the one of a sensor (SAE J1979 labels). */
function expandRatio(tokens: readonly string[]): string[] {
  const out: string[] = [];
  for (let i = 0; i < tokens.length; i++) {
    const joined = tokens[i] === 'eqrat';
    if (joined || (tokens[i] === 'eq' && tokens[i + 1] === 'rat')) {
      if (!joined) i++;
      const number = tokens[i + 1];
      out.push('lambda', ...(number !== undefined && /^\d/.test(number) ? [] : ['target']));
    } else out.push(tokens[i]!);
  }
  return out;
}

/** Lower-case words only, as nearly all wordings of the catalogue are: thousands are read at the start of every run. */
const WORDS = /^[a-z]+(?: [a-z]+)*$/;

/** Raw lower-case tokens of a label: words and digit groups, in order, before synonyms. */
export function rawTokens(label: string): string[] {
  if (label.length <= LONGEST_LABEL && WORDS.test(label)) return label.split(' ');
  const text = plain(mendSigns(label.slice(0, LONGEST_LABEL)).replaceAll(/[λΛ]/g, ' lambda ')).replaceAll(
    /['’]s\b/g,
    '',
  );
  return chunks(text).flatMap(splitDigits);
}

/** Labels of SAE J1979 whose parts mean something else on their own. */
const LABELS: Phrases = [
  [
    ['st', 'fuel', 'trim'],
    ['short', 'fuel', 'trim'],
  ],
  [
    ['lt', 'fuel', 'trim'],
    ['long', 'fuel', 'trim'],
  ],
  [
    ['tq', 'dd'],
    ['driver', 'target', 'engine', 'percent', 'torque'],
  ],
  [
    ['tq', 'act'],
    ['engine', 'percent', 'torque'],
  ],
  [
    ['gear', 'rat'],
    ['gear', 'ratio'],
  ],
];

const LABEL_INDEX = byFirstWord(LABELS);
const PHRASE_INDEX = byFirstWord(PHRASES);

/** Synonyms and phrases replaced; order kept, since numbers belong to the word before them. */
export function canonical(tokens: readonly string[]): string[] {
  const words = expandRatio(replacePhrases(tokens, LABEL_INDEX)).flatMap((token) => SYNONYMS.get(token) ?? [token]);
  return replacePhrases(words, PHRASE_INDEX);
}
