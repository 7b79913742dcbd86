import { CHANNELS } from './catalogue/index.js';
import type { ChannelDefinition } from './definition.js';
import { canonical, rawTokens } from './tokens.js';
import { NOISE, SYNONYMS, TREATED } from './words.js';

export type Strength = 'firm' | 'weak' | 'unit';

/** One wording of one channel as sets of catalogue words. */
export interface Pattern {
  readonly definition: ChannelDefinition;
  readonly strength: Strength;
  readonly required: readonly string[];
  readonly optional: ReadonlySet<string>;
}

/** `rpm` in a wording is a speed; on its own it is engine speed (see `recogniseColumn`). */
function wordsOf(text: string): string[] {
  return canonical(rawTokens(text)).map((word) => (word === 'rpm' ? 'speed' : word));
}

/** One wording as catalogue words: those it must have, then, behind a bar, those that may be absent (in parentheses). */
function wordsLine(wording: string): string {
  const optional: string[] = [];
  const required = wording.replaceAll(/\(([^)]*)\)/g, (_all, inner: string) => {
    optional.push(...wordsOf(inner));
    return ' ';
  });
  const words = [...new Set(wordsOf(required))].join(' ');
  return optional.length === 0 ? words : `${words}|${[...new Set(optional)].join(' ')}`;
}

/** The wordings of a channel, each with its strength; first its id, because what this library writes, it reads. */
function wordingsOf({ id, aliases, weakAliases, unitAliases }: ChannelDefinition): (readonly [string, Strength])[] {
  return [
    [id, aliases.length > 0 ? 'firm' : 'unit'],
    ...aliases.map((wording) => [wording, 'firm'] as const),
    ...weakAliases.map((wording) => [wording, 'weak'] as const),
    ...unitAliases.map((wording) => [wording, 'unit'] as const),
  ];
}

/** {@link wordLines} as the build of the command line worked them out; absent where the library runs by itself. */
declare const TELLTALE_WORD_LINES: string | undefined;

/** The words of every wording of the catalogue, a line each. Thousands of wordings: 7 % of a short run of `columns`. */
export function wordLines(): string {
  return CHANNELS.flatMap((definition) => wordingsOf(definition).map(([wording]) => wordsLine(wording))).join('\n');
}

const NONE: ReadonlySet<string> = new Set();

function patterns(lines: readonly string[]): Pattern[] {
  let next = 0;
  return CHANNELS.flatMap((definition) =>
    wordingsOf(definition).map(([, strength]) => {
      const [required = '', optional] = lines[next++]!.split('|');
      return {
        definition,
        strength,
        required: required === '' ? [] : required.split(' '),
        optional: optional === undefined ? NONE : new Set(optional.split(' ')),
      };
    }),
  );
}

export const PATTERNS: readonly Pattern[] = patterns(
  (typeof TELLTALE_WORD_LINES === 'string' ? TELLTALE_WORD_LINES : wordLines()).split('\n'),
);

/** Every word the catalogue, the synonyms or the positions know. */
export const VOCABULARY: ReadonlySet<string> = new Set([
  ...PATTERNS.flatMap((pattern) => [...pattern.required, ...pattern.optional]),
  ...[...SYNONYMS].flatMap(([from, to]) => [from, ...to]),
  ...NOISE,
  ...TREATED,
  ...'accel acc abs latitude longitude bank cylinder sensor front rear left right odd even before after upstream downstream compressor turbine rpm warning mean minimum lower upper value valve raw delta max min high low status state test limit threshold inner outer'.split(
    ' ',
  ),
]);
