import type { InputReport } from '../engine/assessment.js';
import type { Problem } from '../recording/problem.js';
import type { Block, Line } from './document.js';
import { clock, number, quantity, span } from './format.js';

/** More kinds of problems than this are left to `columns`. */
const PROBLEMS_SHOWN = 8;

/** How each input was read: size, doubts, columns that were not used. */
export function inputBlocks(inputs: readonly InputReport[]): Block[] {
  const blocks: Block[] = [{ kind: 'heading', text: inputs.length > 1 ? 'Inputs' : 'Input' }];
  for (const input of inputs) {
    if (input.error !== undefined) {
      blocks.push({
        kind: 'paragraph',
        line: [{ text: `${input.file}  not used: `, tone: 'repair' }, input.error.message],
      });
      continue;
    }
    blocks.push({ kind: 'paragraph', line: [{ text: input.file, strong: true }, `  ${inputLine(input)}`] });
    const rows: [string, Line][] = [];
    const doubtful = input.channels.filter((each) => each.certainty !== 'certain').map((each) => each.id);
    if (doubtful.length > 0) rows.push(['Less sure', listed(doubtful, 6)]);
    if (input.unrecognised.length > 0) rows.push(['Not used', listed(input.unrecognised, 12)]);
    const noticed = problemLines(input.problems);
    for (const line of noticed.slice(0, PROBLEMS_SHOWN)) rows.push(['Doubt', line]);
    if (noticed.length > PROBLEMS_SHOWN) {
      rows.push(['', `and ${noticed.length - PROBLEMS_SHOWN} more; see telltale columns`]);
    }
    if (rows.length > 0) blocks.push({ kind: 'facts', rows });
  }
  return blocks;
}

/** Kind, rows, duration, distance, columns, in one line. */
function inputLine(input: InputReport): string {
  if (input.kind === 'code-list') return `code list, ${counted(input.rows ?? 0, 'code')}`;
  if (input.kind === 'stored-values')
    return `stored values, ${counted(input.rows ?? 0, 'row')}, ${input.unrecognised.length} not understood`;
  const parts: string[] = [input.kind];
  if (input.rows !== undefined) parts.push(`${number(input.rows)} rows`);
  if (input.duration !== undefined) parts.push(clock(input.duration.value));
  if (input.distance !== undefined) parts.push(quantity(input.distance.value, input.distance.unit, 3));
  const named = `${input.channels.length} of ${input.channels.length + input.unrecognised.length} columns understood`;
  return [...parts, named].join(', ');
}

/** One line a kind of problem: many columns with the same doubt are one remark, not twenty. */
export function problemLines(problems: readonly Problem[]): string[] {
  const groups = new Map<string, Problem[]>();
  for (const problem of problems) {
    const group = groups.get(problem.code) ?? [];
    group.push(problem);
    groups.set(problem.code, group);
  }
  return [...groups.values()].map((group) => {
    const [first] = group;
    if (first === undefined) return '';
    const text = group.length === 1 ? problemLine(first) : `${group.length} like this: ${problemLine(first)}`;
    return `${text}${linesOf(group)}`;
  });
}

/** Physical lines of the file, for who has to mend them. */
function linesOf(group: readonly Problem[]): string {
  const lines = group.flatMap(({ line, from }) => (line === undefined || from !== undefined ? [] : [line]));
  if (lines.length === 0) return '';
  return lines.length === 1 ? ` (line ${lines[0]})` : ` (lines ${listed(lines.map(String), 8)})`;
}

function problemLine(problem: { message: string; from?: number; to?: number; line?: number }): string {
  const at =
    problem.from === undefined
      ? ''
      : ` (at ${problem.to === undefined || problem.to === problem.from ? clock(problem.from) : span(problem.from, problem.to)})`;
  return `${problem.message}${at}`;
}

function counted(count: number, noun: string): string {
  return `${number(count)} ${noun}${count === 1 ? '' : 's'}`;
}

function listed(items: readonly string[], most: number): string {
  const shown = items.slice(0, most).join(', ');
  return items.length > most ? `${shown} and ${items.length - most} more` : shown;
}
