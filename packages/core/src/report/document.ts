import type { Level } from '../engine/assessment.js';

/** Words that carry a level's tone; never colour alone, the word itself is always printed. */
export type Tone = Level | 'clear' | 'plain' | 'quiet';

/** A run of text with a tone. */
export interface Span {
  readonly text: string;
  readonly tone?: Tone;
  readonly strong?: boolean;
}

export type Line = string | readonly (string | Span)[];

/** What a report is made of, before it becomes text, markdown or a page. */
export type Block =
  | { readonly kind: 'title'; readonly line: Line }
  | { readonly kind: 'heading'; readonly text: string; readonly note?: string }
  | { readonly kind: 'subheading'; readonly line: Line }
  | { readonly kind: 'paragraph'; readonly line: Line }
  | { readonly kind: 'facts'; readonly rows: readonly (readonly [string, Line])[] }
  | { readonly kind: 'list'; readonly ordered: boolean; readonly items: readonly Line[]; readonly label?: string }
  | { readonly kind: 'code'; readonly lines: readonly string[] }
  | {
      readonly kind: 'table';
      readonly head: readonly string[];
      readonly rows: readonly (readonly Line[])[];
      readonly right?: readonly number[];
    };

export function spans(line: Line): readonly Span[] {
  if (typeof line === 'string') return [{ text: line }];
  return line.map((part) => (typeof part === 'string' ? { text: part } : part));
}

/** Control and format characters (terminal escapes, bidirectional overrides) of file content are data, never commands. */
export function harmless(text: string): string {
  return text.replace(/[\p{Cc}\p{Cf}\p{Zl}\p{Zp}]/gu, ' ');
}
