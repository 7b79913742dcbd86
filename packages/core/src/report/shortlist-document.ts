import type { Candidate, Shortlist } from '../shortlist/shortlist.js';
import { SAID } from './decision-blocks.js';
import type { Block, Line } from './document.js';
import { number, percent } from './format.js';

const ORDER: Readonly<Record<Shortlist['order'], string>> = {
  settled: 'The evidence settles this order.',
  partly: 'The evidence settles this order in part only.',
  open: 'The evidence does not settle this order: it may turn with the next recording.',
};
/** Findings shown a candidate; the JSON has them all. */
const FINDINGS_SHOWN = 3;

/** Candidates side by side, then each with its worst findings and what is open. */
export function shortlistDocument({ candidates, order, cautions }: Shortlist): Block[] {
  return [
    { kind: 'title', line: [{ text: `Shortlist of ${candidates.length}`, strong: true }, '  best first'] },
    ...(candidates.length > 1 ? ([{ kind: 'paragraph', line: ORDER[order] }] satisfies Block[]) : []),
    tableOf(candidates),
    ...candidates.flatMap(candidateBlocks),
    { kind: 'heading', text: 'Cautions' },
    { kind: 'list', ordered: false, items: cautions },
  ];
}

function tableOf(candidates: readonly Candidate[]): Block {
  const priced = candidates.some(({ sum }) => sum !== undefined);
  return {
    kind: 'table',
    head: ['', 'candidate', 'buyer', 'verdict', 'shown', 'index', 'found', 'open', ...(priced ? ['sum'] : [])],
    right: [4],
    rows: candidates.map((each): Line[] => [
      String(each.rank),
      [{ text: each.name, strong: true }],
      [{ text: SAID[each.action].text, tone: SAID[each.action].tone, strong: true }],
      [{ text: each.verdict.level, tone: each.verdict.level }],
      percent(each.verdict.coverage),
      `${Math.round(each.verdict.index.low)}–${Math.round(each.verdict.index.high)}`,
      String(each.findings.length + (each.seen?.length ?? 0)),
      String(each.unproven.count),
      ...(priced ? [sumOf(each)] : []),
    ]),
  };
}

function sumOf({ sum }: Candidate): string {
  if (sum === undefined) return '';
  return `${number(sum.low, 9)}–${number(sum.high, 9)} ${sum.currency}`;
}

function candidateBlocks({
  rank,
  name,
  findings,
  seen = [],
  unproven,
  next,
  verdict,
  inputs,
  action,
}: Candidate): Block[] {
  const rows: [string, Line][] = findings
    .slice(0, FINDINGS_SHOWN)
    .map(({ severity, summary }, i) => [
      i === 0 ? 'Found' : '',
      [{ text: severity, tone: severity, strong: true }, `  ${summary}`],
    ]);
  if (findings.length > FINDINGS_SHOWN)
    rows.push(['', `and ${findings.length - FINDINGS_SHOWN} more; see telltale assess`]);
  if (findings.length === 0)
    rows.push([
      'Found',
      seen.length === 0 ? (verdict.reasons[0] ?? 'nothing') : 'nothing in what was recorded and read out',
    ]);
  seen.slice(0, FINDINGS_SHOWN).forEach(({ point, severity, note }, i) => {
    rows.push([
      i === 0 ? 'Seen by eye' : '',
      [{ text: severity, tone: severity, strong: true }, `  ${point}${note === '' ? '' : `: ${note}`}`],
    ]);
  });
  if (seen.length > FINDINGS_SHOWN) rows.push(['', `and ${seen.length - FINDINGS_SHOWN} more points of the sheet`]);
  if (unproven.essential.length > 0)
    rows.push(['Open', `${unproven.essential.join(', ')}, needed before it is called sound`]);
  if (inputs.unusable > 0) rows.push(['Unusable', `${inputs.unusable} of ${inputs.used + inputs.unusable} files`]);
  if (next !== undefined) rows.push([next.settled ? 'Before the next' : 'Not settled', next.because]);
  return [
    {
      kind: 'subheading',
      line: [
        { text: `${rank}  ${name}`, strong: true },
        { text: `  ${SAID[action].text.toLowerCase()}`, tone: SAID[action].tone },
      ],
    },
    { kind: 'facts', rows },
  ];
}
