import { spoken } from '../channels/spoken.js';
import type { Assessment, InputReport, Level, Result } from '../engine/assessment.js';
import type { Spark } from '../plots/sparks.js';
import { chainBlocks } from './chain-blocks.js';
import { decisionBlocks, negotiationBlocks, seenBlocks } from './decision-blocks.js';
import type { Block, Line } from './document.js';
import { findingBody } from './finding-blocks.js';
import { number, percent } from './format.js';
import { inputBlocks } from './input-blocks.js';

/** What the report has to know of a rule beside its result. */
export interface RuleText {
  readonly id: string;
  readonly question: string;
}

/** Each level of the verdict in words. */
export const MEANING: Readonly<Record<Level, string>> = {
  sound: 'nothing found, and enough was shown',
  watch: 'keep an eye on it, use it to negotiate',
  repair: 'needs work before it is used hard',
  stop: 'do not drive it hard; have it looked at first',
  unproven: 'not enough was shown to say',
};

/**
 * The health report: verdict first, then systems, evidence, what to do, what was not shown, inputs, cautions.
 * @param sparks small plots of the evidence, where they can be shown
 */
export function assessmentDocument(
  assessment: Assessment,
  rules: readonly RuleText[],
  sparks: readonly Spark[] = [],
): Block[] {
  const questions = new Map(rules.map((rule) => [rule.id, rule.question]));
  const findings = assessment.results.filter((each) => each.outcome === 'finding').sort((a, b) => rank(b) - rank(a));
  const clear = assessment.results.filter((each) => each.outcome === 'clear');
  const open = assessment.results.filter((each) => each.outcome === 'unproven' || each.outcome === 'error');
  const files = assessment.inputs;
  return [
    ...decisionBlocks(assessment),
    ...verdictBlocks(assessment),
    ...systemBlocks(assessment),
    ...findings.flatMap((each, i) => findingBlocks(each, i, findings.length, questions, files, sparks)),
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

/** `2 found, 3 clear` of one system. */
export function tally(results: readonly Result[], system: string): string {
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
  sparks: readonly Spark[],
): Block[] {
  if (result.outcome !== 'finding') return [];
  const severity = result.severity ?? 'watch';
  return [
    ...(position > 0
      ? []
      : [{ kind: 'heading' as const, text: 'Findings', ...(total > 1 ? { note: 'weightiest first' } : {}) }]),
    {
      kind: 'subheading',
      line: [
        { text: severity.toUpperCase(), tone: severity, strong: true },
        { text: `  ${result.rule}`, strong: true },
        { text: `  ${questions.get(result.rule) ?? ''}`, tone: 'quiet' },
      ],
    },
    { kind: 'paragraph', line: result.summary },
    ...findingBody(
      result,
      files,
      sparks.find(({ rule }) => rule === result.rule),
    ),
  ];
}

function clearBlocks(results: readonly Result[]): Block[] {
  if (results.length === 0) return [];
  return [
    { kind: 'heading', text: 'Clear', note: 'looked at, and inside the limits' },
    { kind: 'table', head: ['', ''], rows: results.map((each) => [each.rule, clearLine(each)]) },
  ];
}

/** What had to be assumed stands beside a clear answer too. */
export function clearLine(result: Result): string {
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

/** Weightiest finding first: sorts by the difference. */
export function rank(result: Result): number {
  if (result.outcome !== 'finding') return 0;
  return { watch: 1, repair: 2, stop: 3 }[result.severity ?? 'watch'] + result.confidence / 10;
}
