import { type Block, harmless, type Line, spans, type Tone } from './document.js';

/** How a span is painted; the command line passes colours, the default leaves text as it is. */
export type Paint = (text: string, tone: Tone, strong: boolean) => string;

export interface TextOptions {
  /** Columns available; lines are wrapped to at most this many. */
  readonly width?: number;
  readonly paint?: Paint;
}

const MOST = 100;
const LEAST = 40;
/** A table's last column gets at least this much before the others are narrowed, and none gets less than NARROWEST. */
const TAIL = 24;
const NARROWEST = 14;

/** Renders blocks for a terminal or a plain file. */
export function renderText(blocks: readonly Block[], options: TextOptions = {}): string {
  const width = Math.max(LEAST, Math.min(options.width ?? 80, MOST));
  const paint = options.paint ?? ((text) => text);
  const out: string[] = [];
  for (const block of blocks) renderBlock(block, width, paint, out);
  return `${out
    .join('\n')
    .replace(/\n{3,}/g, '\n\n')
    .trim()}\n`;
}

function renderBlock(block: Block, width: number, paint: Paint, out: string[]): void {
  const put = (line: Line, first = '', rest = first): void => {
    for (const text of wrap(line, width, first, rest, paint)) out.push(text);
  };
  switch (block.kind) {
    case 'title':
      put(block.line);
      out.push('');
      return;
    case 'heading': {
      const note = block.note === undefined ? '' : `  ${block.note}`;
      out.push(
        '',
        `${paint(block.text.toUpperCase(), 'plain', true)}${paint(cut(note, width - block.text.length), 'quiet', false)}`,
      );
      return;
    }
    case 'subheading':
      out.push('');
      put(block.line, '  ');
      return;
    case 'paragraph':
      put(block.line, '  ');
      return;
    case 'facts': {
      const label = Math.max(...block.rows.map(([name]) => name.length));
      for (const [name, line] of block.rows) {
        const head = name.padEnd(label);
        put(line, `    ${head}  `, ' '.repeat(label + 6));
      }
      return;
    }
    case 'list': {
      const label = block.label === undefined ? '' : `${block.label}  `;
      block.items.forEach((item, index) => {
        const mark = block.ordered ? `${index + 1}. ` : '- ';
        const lead = index === 0 ? label : ' '.repeat(label.length);
        put(item, `    ${lead}${mark}`, ' '.repeat(4 + label.length + mark.length));
      });
      return;
    }
    case 'code':
      // To be copied as it stands, so never wrapped.
      for (const line of block.lines) out.push(`    ${harmless(line)}`);
      return;
    case 'table':
      renderTable(block, width, paint, out);
  }
}

function renderTable(block: Extract<Block, { kind: 'table' }>, width: number, paint: Paint, out: string[]): void {
  const texts = block.rows.map((row) =>
    row.map((cell) =>
      spans(cell)
        .map((part) => harmless(part.text))
        .join(''),
    ),
  );
  const last = block.head.length - 1;
  const widths = fitted(
    block.head.map((head, i) => Math.max(head.length, ...texts.map((row) => columns(row[i] ?? '')))),
    width,
  );
  const before = widths.slice(0, last).reduce((sum, each) => sum + each + 2, 2);
  if (block.head.some((head) => head !== '')) {
    const head = block.head
      .map((text, i) => pad(cut(text, widths[i]!), i === last ? 0 : widths[i]!, block.right?.includes(i) ?? false))
      .join('  ');
    out.push(paint(cut(`  ${head}`, width).trimEnd(), 'quiet', false));
  }
  for (const row of block.rows) {
    const cells = block.head.map((_, i) => {
      const room = i === last ? Math.max(TAIL / 2, width - before) : widths[i]!;
      return wrapCell(row[i] ?? '', room, block.right?.includes(i) ?? false, i !== last, paint);
    });
    const height = Math.max(...cells.map((lines) => lines.length));
    for (let line = 0; line < height; line++) {
      const parts = cells.map((lines, i) => lines[line] ?? (i === last ? '' : ' '.repeat(widths[i]!)));
      out.push(`  ${parts.join('  ')}`.trimEnd());
    }
  }
}

/** The cell's lines; all but the last column are filled to the width, so that what follows stands in its column. */
function wrapCell(cell: Line, width: number, right: boolean, fill: boolean, paint: Paint): string[] {
  const bare = wrap(cell, width, '', '', (text) => text);
  const painted = wrap(cell, width, '', '', paint);
  return painted.map((text, i) => {
    const gap = fill ? ' '.repeat(Math.max(0, width - columns(bare[i] ?? ''))) : '';
    return right ? gap + text : text + gap;
  });
}

/** Narrows the columns until the table fits; the last column wraps, so it asks for a little room only. */
function fitted(natural: readonly number[], width: number): number[] {
  const widths = [...natural];
  const last = widths.length - 1;
  const tail = Math.min(widths[last] ?? 0, TAIL);
  const total = (): number => widths.slice(0, last).reduce((sum, each) => sum + each + 2, 2 + tail);
  // The first column holds names that may wrap at their words; ids in the others stay whole as long as they can.
  while (total() > width && widths[0]! > NARROWEST) widths[0]! -= 1;
  while (total() > width) {
    const widest = widths.slice(0, last).reduce((best, each, i) => (each > widths[best]! ? i : best), 0);
    if (widths[widest]! <= NARROWEST) break;
    widths[widest]! -= 1;
  }
  return widths;
}

/** Units that follow a number in texts; other words after one are ordinary words. */
const UNITS =
  '%|‰|°C|°|K|rpm|km/h|m/s²|m/s2|m/s|km|kPa|hPa|mbar|bar|MPa|Pa|mg|g/s|g/kWh|g|kg/h|kg|N\\.m|Nm|N|kW|W|kV|mV|V|mA|A|mm²|mm|cm³|cm3|cm|m²|m2|m|ml|L/h|L|l|ms|min|s|h|kHz|Hz';
const NUMBER_AND_UNIT = new RegExp(`(\\d) (?=(?:${UNITS})(?![\\p{L}\\d]))`, 'gu');
/** Stands for the space between number and unit until the line is set. */
const JOINER = '\u00A0';

/** A number and its unit stay on one line, as do a plus-minus or a comparison and its number. Common practice, no source. */
function joined(text: string): string {
  return text.replace(NUMBER_AND_UNIT, `$1${JOINER}`).replace(/([±≥≤]|[<>]=?) (?=\d)/gu, `$1${JOINER}`);
}

/** Greedy wrap at spaces, never between a number and its unit; a word longer than the line is broken. Tones survive the wrap. */
export function wrap(line: Line, width: number, first: string, rest: string, paint: Paint): string[] {
  const out: string[] = [];
  let text = first;
  let used = columns(first);
  let empty = true;
  const flush = (): void => {
    out.push(text.trimEnd());
    text = rest;
    used = columns(rest);
    empty = true;
  };
  const tokens = spans(line).flatMap((part) =>
    joined(harmless(part.text))
      .split(/( +)/)
      .filter((token) => token !== '')
      .map((token) => ({ token, part, blank: token.trim() === '' })),
  );
  tokens.forEach(({ token, part, blank }, i) => {
    if (blank && empty) return;
    let word = token;
    // A comma in the next span belongs to the word before it: both go to the next line, or none.
    const glued = i > 0 && !blank && !tokens[i - 1]!.blank;
    let needed = columns(word);
    for (let k = i + 1; !glued && !blank && tokens[k]?.blank === false; k++) needed += columns(tokens[k]!.token);
    if (!blank && !empty && used + needed > width) flush();
    while (!blank && used + columns(word) > width && columns(word) > width - used && width - used > 8) {
      const head = breakable([...word].slice(0, width - used).join(''));
      text += paint(spaced(head), part.tone ?? 'plain', part.strong ?? false);
      word = word.slice(head.length);
      empty = false;
      flush();
    }
    if (word === '') return;
    text += blank ? word : paint(spaced(word), part.tone ?? 'plain', part.strong ?? false);
    used += columns(word);
    empty = false;
  });
  if (!empty || out.length === 0) out.push(text.trimEnd());
  return out;
}

function spaced(word: string): string {
  return word.replaceAll(JOINER, ' ');
}

/** A long word is broken after its last joint (`_`, `/`, `.`, `-`), when that leaves at least half of the room. */
function breakable(head: string): string {
  for (let i = head.length; i > head.length / 2; i--) if ('_/.-'.includes(head[i - 1]!)) return head.slice(0, i);
  return head;
}

/** Code points, counting wide (CJK, emoji) as two. */
export function columns(text: string): number {
  let count = 0;
  for (const char of text)
    count +=
      /[\u1100-\u115F\u2E80-\uA4CF\uAC00-\uD7A3\uF900-\uFAFF\uFE30-\uFE6F\uFF00-\uFF60\uFFE0-\uFFE6]|[\u{1F300}-\u{1FAFF}]/u.test(
        char,
      )
        ? 2
        : 1;
  return count;
}

function pad(text: string, width: number, right: boolean): string {
  return right ? text.padStart(width) : text.padEnd(width);
}

function cut(text: string, width: number): string {
  return columns(text) <= width ? text : `${[...text].slice(0, Math.max(0, width - 1)).join('')}…`;
}
