import type { ChannelDefinition, PositionKind } from './definition.js';

/** Order in which positions are written into an id: `bank1Sensor2`. */
const ORDER: readonly PositionKind[] = [
  'bank',
  'sensor',
  'turbo',
  'cylinder',
  'clutch',
  'axle',
  'wheel',
  'gear',
  'fork',
  'range',
];
const HIGHEST: Readonly<Record<PositionKind, number>> = {
  bank: 4,
  sensor: 12,
  turbo: 4,
  cylinder: 16,
  clutch: 4,
  gear: 10,
  fork: 8,
  range: 10,
  axle: 0,
  wheel: 0,
};
const WHEELS: Readonly<Record<string, string>> = {
  fl: 'frontLeft',
  lf: 'frontLeft',
  vl: 'frontLeft',
  fr: 'frontRight',
  rf: 'frontRight',
  vr: 'frontRight',
  rl: 'rearLeft',
  lr: 'rearLeft',
  hl: 'rearLeft',
  bl: 'rearLeft',
  rr: 'rearRight',
  hr: 'rearRight',
  br: 'rearRight',
};

/** What a label says about positions, before it is known which channel it is. */
export interface PositionMarks {
  /** Words of the label that are no number and no pure position mark, in order. */
  readonly words: readonly string[];
  /** Position words that are explained when the channel takes that position. */
  readonly marks: readonly { readonly kind: PositionKind; readonly value: string; readonly words: readonly string[] }[];
  /** Numbers and single letters that belong to no word. */
  readonly bare: readonly string[];
}

const NUMBER_WORDS: ReadonlySet<string> = new Set(['no', 'nr', 'number']);

const NUMBERED: Readonly<Record<string, PositionKind>> = {
  bank: 'bank',
  b: 'bank',
  cylinder: 'cylinder',
  sensor: 'sensor',
  s: 'sensor',
  clutch: 'clutch',
  c: 'cylinder',
  k: 'clutch',
  turbo: 'turbo',
  gear: 'gear',
  fork: 'fork',
  range: 'range',
};

function isNumber(token: string): boolean {
  return token >= '0' && token < ':' && token.length <= 4;
}

/** Reads position marks off the ordered words of a label. */
export function readPositions(all: readonly string[]): PositionMarks {
  // "cylinder no. 3"
  const tokens = all.filter((token, i) => !(NUMBER_WORDS.has(token) && isNumber(all[i + 1] ?? '')));
  const words: string[] = [];
  const bare: string[] = [];
  const marks: { kind: PositionKind; value: string; words: readonly string[] }[] = [];
  let side: string | undefined;
  let end: string | undefined;
  for (let i = 0; i < tokens.length; i++) {
    const token = tokens[i]!;
    const next = tokens[i + 1] ?? '';
    const kind = Object.hasOwn(NUMBERED, token) ? NUMBERED[token] : undefined;
    if (
      token === 'sensor' &&
      next.length === 2 &&
      isNumber(next) &&
      (words.includes('oxygen') || words.includes('lambda'))
    ) {
      // O2S12: bank 1, sensor 2.
      words.push(token);
      bare.push(next);
      i++;
    } else if (kind !== undefined && isNumber(next)) {
      marks.push({ kind, value: String(Number(next)), words: token.length > 1 ? [token] : [] });
      if (token.length > 1) words.push(token);
      if (token === 'k') words.push('clutch');
      i++;
    } else if (kind === 'clutch' && token === 'clutch' && (next === 'a' || next === 'b')) {
      marks.push({ kind, value: next === 'a' ? '1' : '2', words: [token] });
      words.push(token);
      i++;
    } else if (isNumber(token) || (token.length === 1 && token !== '%')) {
      bare.push(token);
    } else if (Object.hasOwn(WHEELS, token)) {
      marks.push({ kind: 'wheel', value: WHEELS[token]!, words: [token] });
      words.push(token);
    } else {
      if (token === 'front' || token === 'rear') end = token;
      if (token === 'left' || token === 'right') side = token;
      if (token === 'odd' || token === 'even') {
        marks.push({ kind: 'clutch', value: token === 'odd' ? '1' : '2', words: [token, 'gear', 'gears'] });
      }
      words.push(token === '%' ? 'percent' : token);
    }
  }
  if (end !== undefined && side !== undefined) {
    marks.push({ kind: 'wheel', value: `${end}${side === 'left' ? 'Left' : 'Right'}`, words: [end, side] });
  } else if (end !== undefined) marks.push({ kind: 'axle', value: end, words: [end, 'axle'] });
  return { words, marks, bare };
}

const LETTERS: Readonly<Record<string, string>> = { a: '1', b: '2', c: '3', d: '1', e: '2', f: '3' };

export type Positions = Partial<Record<PositionKind, string>>;

/**
 * Positions of a label for one channel, or the reason why they do not fit. `absorbed` words belong to the wording
 * itself (front in "front drive torque").
 */
export function fitPositions(
  definition: ChannelDefinition,
  marks: PositionMarks,
  absorbed: ReadonlySet<string>,
): { readonly positions: Positions; readonly explained: ReadonlySet<string> } | { readonly fault: string } {
  const positions: Positions = {};
  const explained = new Set<string>();
  const takes = new Set(definition.positions);
  for (const mark of marks.marks) {
    if (takes.has(mark.kind)) {
      if (positions[mark.kind] !== undefined && positions[mark.kind] !== mark.value)
        return { fault: `two ${mark.kind}s` };
      positions[mark.kind] = mark.value;
      for (const word of mark.words) explained.add(word);
    } else if (mark.kind === 'axle' && takes.has('sensor') && takes.has('bank')) {
      // Front and rear oxygen sensor: before and after the catalyst.
      positions.sensor = mark.value === 'front' ? '1' : '2';
      explained.add(mark.value);
    } else if (mark.kind === 'axle' && absorbed.has(mark.value)) {
      // the words are part of the wording
    } else if (
      mark.kind === 'sensor' &&
      definition.numberMeans !== undefined &&
      positions[definition.numberMeans] === undefined
    ) {
      positions[definition.numberMeans] = mark.value; // "wheel sensor 3" style numbering
    } else return { fault: `takes no ${mark.kind}` };
  }
  const fault = fitBare(definition, marks.bare, positions);
  if (fault !== undefined) return { fault };
  for (const kind of ORDER) {
    const value = positions[kind];
    if (value === undefined || HIGHEST[kind] === 0) continue;
    const number = Number(value);
    if (!(number >= 1 && number <= HIGHEST[kind])) return { fault: `${kind} ${value} is out of 1..${HIGHEST[kind]}` };
  }
  if (definition.firstSensorIsPlain === true && positions.sensor === '1') delete positions.sensor;
  return { positions, explained };
}

function fitBare(definition: ChannelDefinition, bare: readonly string[], positions: Positions): string | undefined {
  if (bare.length === 0) return undefined;
  const means = definition.numberMeans;
  const takesSensor = definition.positions.includes('sensor');
  const numbers = bare.filter((token) => isNumber(token));
  const letters = bare.filter((token) => !isNumber(token));
  for (const letter of letters) {
    const value = LETTERS[letter];
    if (means === 'sensor' && value !== undefined && Object.hasOwn(LETTERS, letter) && positions.sensor === undefined)
      positions.sensor = value;
    else if (means === 'clutch' && (letter === 'a' || letter === 'b')) positions.clutch = value!;
    else return `'${letter}' is not understood`;
  }
  if (numbers.length === 0) return undefined;
  if (means === undefined) return `the number ${numbers[0]} is not understood`;
  const [first, second, ...more] = numbers;
  if (means === 'bank' && takesSensor && second === undefined && first!.length === 2 && positions.bank === undefined) {
    positions.bank = first![0]!;
    positions.sensor = first![1]!;
    return undefined;
  }
  if (more.length > 0) return 'too many numbers';
  if (positions[means] === undefined) positions[means] = String(Number(first));
  else if (takesSensor && positions.sensor === undefined) {
    positions.sensor = String(Number(first));
    return second === undefined ? undefined : 'too many numbers';
  } else return `the number ${first} is not understood`;
  if (second === undefined) return undefined;
  if (means === 'bank' && takesSensor && positions.sensor === undefined) positions.sensor = String(Number(second));
  else return `the number ${second} is not understood`;
  return undefined;
}

/** `knockRetard` and `{ cylinder: '3' }` make `knockRetard.cylinder3`. */
export function channelId(base: string, positions: Positions): string {
  let suffix = '';
  for (const kind of ORDER) {
    const value = positions[kind];
    if (value === undefined) continue;
    const part = HIGHEST[kind] === 0 ? value : `${kind}${value}`;
    suffix += suffix === '' ? part : part[0]!.toUpperCase() + part.slice(1);
  }
  return suffix === '' ? base : `${base}.${suffix}`;
}

const PART = /^(bank|sensor|turbo|cylinder|clutch|gear|fork|range)(\d{1,2})/;
const PLACED = /^(frontLeft|frontRight|rearLeft|rearRight|front|rear)/;

/** Reads `bank1Sensor2`; undefined when it is no position. */
export function parsePositions(text: string): Positions | undefined {
  const positions: Positions = {};
  let rest = text.slice(0, 60);
  while (rest !== '') {
    rest = rest[0]!.toLowerCase() + rest.slice(1);
    const numbered = PART.exec(rest);
    const placed = PLACED.exec(rest)?.[1];
    if (numbered !== null) {
      const kind = numbered[1] as PositionKind;
      if (positions[kind] !== undefined) return undefined;
      const number = Number(numbered[2]);
      if (number < 1 || number > HIGHEST[kind]) return undefined;
      positions[kind] = String(number);
      rest = rest.slice(numbered[0].length);
    } else if (placed !== undefined) {
      positions[placed.length > 5 ? 'wheel' : 'axle'] = placed;
      rest = rest.slice(placed.length);
    } else return undefined;
  }
  return Object.keys(positions).length === 0 ? undefined : positions;
}
