import { spoken } from '../channels/spoken.js';
import type { Assessment, InputReport, Level, Result } from '../engine/assessment.js';
import type { Problem } from '../recording/problem.js';
import type { Measure, RuleEvent } from '../rules/rule.js';
import { chainBlocks } from './chain-blocks.js';
import { decisionBlocks, negotiationBlocks, seenBlocks } from './decision-blocks.js';
import type { Block, Line, Span } from './document.js';
import { clock, limits, measure, number, percent, quantity, span } from './format.js';

/** What the report has to know of a rule beside its result. */
export interface RuleText {
  readonly id: string;
  readonly question: string;
}

/** More kinds of problems than this are left to `columns`. */
const PROBLEMS_SHOWN = 8;

/** More events than this are summed up in one line; the JSON has them all. */
const EVENTS_SHOWN = 6;

const MEANING: Readonly<Record<Level, string>> = {
  sound: 'nothing found, and enough was shown',
  watch: 'keep an eye on it, use it to negotiate',
  repair: 'needs work before it is used hard',
  stop: 'do not drive it hard; have it looked at first',
  unproven: 'not enough was shown to say',
};

/** The health report: verdict first, then systems, evidence, what to do, what was not shown, inputs, cautions. */
export function assessmentDocument(assessment: Assessment, rules: readonly RuleText[]): Block[] {
  const questions = new Map(rules.map((rule) => [rule.id, rule.question]));
  const findings = assessment.results.filter((each) => each.outcome === 'finding').sort((a, b) => rank(b) - rank(a));
  const clear = assessment.results.filter((each) => each.outcome === 'clear');
  const open = assessment.results.filter((each) => each.outcome === 'unproven' || each.outcome === 'error');
  const files = assessment.inputs;
  return [
    ...decisionBlocks(assessment),
    ...verdictBlocks(assessment),
    ...systemBlocks(assessment),
    ...findings.flatMap((each, i) => findingBlocks(each, i, findings.length, questions, files)),
    ...chainBlocks(assessment),
    ...seenBlocks(assessment),
    ...negotiationBlocks(assessment.decision),
    ...clearBlocks(clear),
    ...openBlocks(open, questions),
    ...inputBlocks(files),
    { kind: 'heading', text: 'Cautions' },
    { kind: 'list', ordered: false, items: assessment.cautions },
  ];
}

function verdictBlocks({ verdict }: Assessment): Block[] {
  const { level, coverage, index } = verdict;
  return [
    {
      kind: 'paragraph',
      line: [
        { text: 'Verdict of the evidence: ' },
        { text: level.toUpperCase(), tone: level, strong: true },
        { text: ` – ${MEANING[level]}.` },
        {
          text: ` Shown: ${percent(coverage)} of what was asked. Health index ${number(Math.round(index.low))} to ${number(Math.round(index.high))} of 100`,
          tone: 'quiet',
        },
        { text: ' (its width: what was not shown, and doubt in what was).', tone: 'quiet' },
      ],
    },
  ];
}

function systemBlocks({ systems, results }: Assessment): Block[] {
  if (systems.length === 0) return [];
  return [
    { kind: 'heading', text: 'Systems' },
    {
      kind: 'table',
      head: ['system', 'level', 'shown', 'checked'],
      right: [2],
      rows: systems.map(({ id, level, coverage }) => [
        id,
        [{ text: level, tone: level, strong: true }],
        percent(coverage),
        tally(results, id),
      ]),
    },
  ];
}

function tally(results: readonly Result[], system: string): string {
  const own = results.filter((each) => each.rule.startsWith(`${system}.`));
  const count = (outcome: Result['outcome']): number => own.filter((each) => each.outcome === outcome).length;
  const parts = [
    [count('finding'), 'found'],
    [count('clear'), 'clear'],
    [count('unproven'), 'not shown'],
    [count('error'), 'failed'],
  ] as const;
  return parts
    .filter(([n]) => n > 0)
    .map(([n, what]) => `${n} ${what}`)
    .join(', ');
}

function findingBlocks(
  result: Result,
  position: number,
  total: number,
  questions: ReadonlyMap<string, string>,
  files: readonly InputReport[],
): Block[] {
  if (result.outcome !== 'finding') return [];
  const severity = result.severity ?? 'watch';
  const blocks: Block[] = [];
  if (position === 0)
    blocks.push({ kind: 'heading', text: 'Findings', ...(total > 1 ? { note: 'weightiest first' } : {}) });
  blocks.push(
    {
      kind: 'subheading',
      line: [
        { text: severity.toUpperCase(), tone: severity, strong: true },
        { text: `  ${result.rule}`, strong: true },
        { text: `  ${questions.get(result.rule) ?? ''}`, tone: 'quiet' },
      ],
    },
    { kind: 'paragraph', line: result.summary },
  );
  const rows: [string, Line][] = result.events
    .slice(0, EVENTS_SHOWN)
    .map((event, i) => [i === 0 ? 'When' : '', eventLine(event, files)]);
  if (result.events.length > EVENTS_SHOWN)
    rows.push(['', `and ${result.events.length - EVENTS_SHOWN} more (all in --json)`]);
  if (Object.keys(result.measures).length > 0) rows.push(['Measured', measuresLine(result.measures)]);
  if (result.limits.length > 0) rows.push(['Limits', limits(result.limits)]);
  rows.push(['Confidence', `${percent(result.confidence)}`]);
  for (const note of result.notes ?? []) rows.push(['Note', note]);
  blocks.push({ kind: 'facts', rows });
  if ((result.causes ?? []).length > 0)
    blocks.push({ kind: 'list', ordered: true, label: 'Likely    ', items: result.causes ?? [] });
  if ((result.advice ?? []).length > 0)
    blocks.push({ kind: 'list', ordered: true, label: 'Do next   ', items: result.advice ?? [] });
  return blocks;
}

function eventLine(event: RuleEvent, files: readonly InputReport[]): Line {
  const file = files.length > 1 ? `${files[event.input]?.file ?? ''} ` : '';
  const parts: (string | Span)[] = [`${file}${span(event.from, event.to)}`];
  if (event.severity !== undefined) parts.push(', ', { text: event.severity, tone: event.severity });
  for (const [name, value] of Object.entries(event)) {
    if (name === 'input' || name === 'from' || name === 'to' || name === 'severity' || value === undefined) continue;
    const shown =
      typeof value === 'object' ? measure(value) : typeof value === 'number' ? number(value) : worded(value);
    // `what` and `kind` name the event: "flare", "drop-out".
    const bare = name === 'what' || name === 'kind' || shown.startsWith(`${spoken(name)} `);
    parts.push(bare ? `, ${shown}` : `, ${spoken(name)} ${shown}`);
  }
  return parts;
}

/** Words as they stand; the id of a channel or wheel in words. */
function worded(text: string): string {
  return text.includes(' ') ? text : spoken(text);
}

function measuresLine(measures: Readonly<Record<string, Measure>>): string {
  return Object.entries(measures)
    .map(([name, each]) => `${spoken(name).replaceAll(',', '')} ${measure(each)}`)
    .join('; ');
}

function clearBlocks(results: readonly Result[]): Block[] {
  if (results.length === 0) return [];
  return [
    { kind: 'heading', text: 'Clear', note: 'looked at, and inside the limits' },
    { kind: 'table', head: ['', ''], rows: results.map((each) => [each.rule, clearLine(each)]) },
  ];
}

/** What had to be assumed stands beside a clear answer too. */
function clearLine(result: Result): string {
  const assumed =
    result.outcome === 'clear'
      ? (result.notes ?? []).filter((note) => /unknown|not stated|assumed|taken as/i.test(note))
      : [];
  return [result.summary, ...assumed].join(' ');
}

function openBlocks(results: readonly Result[], questions: ReadonlyMap<string, string>): Block[] {
  if (results.length === 0) return [];
  const blocks: Block[] = [
    { kind: 'heading', text: 'Not shown', note: 'neither good nor bad: the recording cannot tell' },
  ];
  for (const result of results) {
    blocks.push({
      kind: 'subheading',
      line: [
        { text: result.rule, strong: true },
        { text: `  ${questions.get(result.rule) ?? ''}`, tone: 'quiet' },
      ],
    });
    const rows: [string, Line][] = [['Why', result.summary]];
    if (result.outcome === 'unproven') {
      if (result.missing.channels.length > 0) rows.push(['Record', result.missing.channels.map(spoken).join('; ')]);
      if (result.missing.conditions.length > 0) rows.push(['Drive', result.missing.conditions.join('; ')]);
      rows.push(['To show', result.proves]);
      for (const note of result.notes ?? []) rows.push(['Note', note]);
    }
    blocks.push({ kind: 'facts', rows });
  }
  return blocks;
}

function inputBlocks(inputs: readonly InputReport[]): Block[] {
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

function rank(result: Result): number {
  if (result.outcome !== 'finding') return 0;
  return { watch: 1, repair: 2, stop: 3 }[result.severity ?? 'watch'] + result.confidence / 10;
}
