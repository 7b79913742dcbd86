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

const NONE: ReadonlySet<string> = new Set();

/** Words in parentheses may be absent. */
function compile(definition: ChannelDefinition, wording: string, strength: Strength): Pattern {
  const optional: string[] = [];
  if (!wording.includes('(')) return { definition, strength, required: [...new Set(wordsOf(wording))], optional: NONE };
  const required = wording.replaceAll(/\(([^)]*)\)/g, (_all, inner: string) => {
    optional.push(...wordsOf(inner));
    return ' ';
  });
  return { definition, strength, required: [...new Set(wordsOf(required))], optional: new Set(optional) };
}

export const PATTERNS: readonly Pattern[] = CHANNELS.flatMap((definition) => [
  compile(definition, definition.id, definition.aliases.length > 0 ? 'firm' : 'unit'), // what this library writes, it reads
  ...definition.aliases.map((wording) => compile(definition, wording, 'firm')),
  ...definition.weakAliases.map((wording) => compile(definition, wording, 'weak')),
  ...definition.unitAliases.map((wording) => compile(definition, wording, 'unit')),
]);

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
