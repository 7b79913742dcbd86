import { exceeds } from '../../derived/exceeds.js';
import type { Missing } from '../../derived/recipe.js';
import type { Certainty } from '../../recording/recording.js';
import { confidenceOf } from '../confidence.js';
import type { Context, Judgement, Limit, Measure, Observed, RuleEvent, Severity } from '../rule.js';
import { figure, listed } from '../wording.js';
import { causesOf, patternOf } from './trim-causes.js';
import { type Cell, LONG_ENOUGH, type Regime } from './trim-cells.js';
import {
  cellsOf,
  type Difference,
  differencesOf,
  explainedByFuel,
  type Found,
  severityOf,
  type TrimObservation,
} from './trim-findings.js';
import { apartSummary, foundSummary, notesOf, summaryOf } from './trim-wording.js';

const RANK: Readonly<Record<Severity, number>> = { watch: 1, repair: 2, stop: 3 };
const CONDITION: Readonly<Record<Regime, string>> = {
  idle: `warm idle >= ${LONG_ENOUGH} s`,
  cruise: `warm cruise >= ${LONG_ENOUGH} s`,
  load: `closed-loop load >= ${LONG_ENOUGH} s`,
};

/** Weighs the trims of all drives of the car. */
export function judgeTrims(observed: readonly Observed<TrimObservation>[], context: Context): Judgement {
  const limits = context.limits();
  const seen = observed.map(({ observation }) => observation);
  const banks = [...new Set(seen.flatMap((each) => each.banks))].sort();
  const cells = cellsOf(seen, banks);
  const differences = differencesOf(cells, limits.bankDifference!);
  const explained = explainedByFuel(cells, seen, context, limits.watch!);
  // Rich idle with cold oil is fuel vapour out of the oil until hot oil shows otherwise: not judged, not shown either.
  const judged = cells.filter((cell) => !(cell.coldOil && cell.value < 0));
  const found = explained ? [] : judged.flatMap((cell) => severityOf(cell, limits));
  found.sort((a, b) => RANK[b.severity] - RANK[a.severity] || Math.abs(b.cell.value) - Math.abs(a.cell.value));
  const apart = differences.filter((each) => each.beyond).sort((a, b) => Math.abs(b.value) - Math.abs(a.value));
  const base = {
    measures: measuresOf(cells, differences),
    events: eventsOf(observed, found, limits),
    limits: Object.values(limits),
    notes: notesOf(seen, cells, explained, context),
    details: { cells: cells.map((cell) => ({ ...cell })) },
  };
  const doubts = [
    seen.every(({ allLongZero }) => allLongZero) ? 0.7 : 1,
    seen.some(({ withoutShort }) => withoutShort.length > 0) ? 0.7 : 1,
    seen.every(({ closedLoopCertain }) => closedLoopCertain) ? 1 : 0.95,
  ];
  const channels = seen.flatMap(({ certainties }) => certainties);
  const [worst] = found;
  if (worst !== undefined || apart[0] !== undefined) {
    const rich = worst !== undefined && worst.cell.value < 0;
    const purge = rich && !seen.some(({ purgeKnown }) => purgeKnown) ? 0.85 : 1;
    const margin =
      worst !== undefined
        ? { margin: Math.abs(worst.cell.value) - worst.limit.value, ...pick(worst.cell) }
        : { margin: Math.abs(apart[0]!.value) - limits.bankDifference!.value, ...pick(apart[0]!) };
    const pattern = patternOf(
      judged,
      found.map(({ cell }) => cell),
    );
    return {
      ...base,
      outcome: 'finding',
      severity: worst?.severity ?? 'watch',
      confidence: confidenceOf({ ...margin, channels, doubts: [...doubts, purge] }),
      summary:
        worst !== undefined ? foundSummary(found, pattern.words) : apartSummary(apart[0]!, limits.bankDifference!),
      ...causesOf(pattern, apart.length > 0),
    };
  }
  return calm(judged, banks, seen, base, limits.watch!, explained, { channels, doubts });
}

/** No finding: clear, or what is missing to say so. */
function calm(
  cells: readonly Cell[],
  banks: readonly string[],
  seen: readonly TrimObservation[],
  base: { readonly measures: Readonly<Record<string, Measure>> },
  watch: Limit,
  explained: boolean,
  support: { readonly channels: readonly { readonly certainty: Certainty }[]; readonly doubts: readonly number[] },
): Judgement {
  const told = summaryOf(cells);
  if (seen.every(({ allLongZero }) => allLongZero)) {
    return {
      ...base,
      outcome: 'unproven',
      summary: `All long-term trims are exactly 0: the learned values were reset, so that little correction is seen proves nothing.${told}`,
      missing: {
        channels: [],
        conditions: ['long-term trims learned again (about 50 km of mixed driving after a reset)'],
      },
    };
  }
  const missing = missingOf(cells, banks, seen);
  if (missing !== undefined) {
    const { words, ...named } = missing;
    return { ...base, outcome: 'unproven', summary: `Trims not shown: ${words}.${told}`, missing: named };
  }
  const nearest = cells.reduce((a, b) => (watch.value - Math.abs(b.value) < watch.value - Math.abs(a.value) ? b : a));
  const near = exceeds(Math.abs(nearest.value), nearest.uncertainty, watch.value, watch.comparison) !== 'within';
  const load = banks.every((bank) => cells.some((cell) => cell.bank === bank && cell.regime === 'load'));
  const summary = explained
    ? `The trims are lean alike in every regime, as the ethanol in the fuel asks for.${told}`
    : near
      ? `Near the limit of ${figure(watch.value)} %, not beyond it for certain.${told}`
      : `Total trims stay within ${figure(watch.value)} %.${told}${load ? '' : ' Load was not shown.'}`;
  return {
    ...base,
    outcome: 'clear',
    confidence: confidenceOf({
      margin: explained ? watch.value : watch.value - Math.abs(nearest.value),
      ...pick(nearest),
      channels: support.channels,
      doubts: [...support.doubts, load ? 1 : 0.85, explained ? 0.7 : 1],
    }),
    summary,
  };
}

function pick({ uncertainty, samples }: { uncertainty: number; samples: number }): {
  uncertainty: number;
  samples: number;
} {
  return { uncertainty, samples };
}

function missingOf(
  cells: readonly Cell[],
  banks: readonly string[],
  seen: readonly TrimObservation[],
): (Missing & { words: string }) | undefined {
  const has = (regime: Regime): boolean =>
    banks.every((bank) => cells.some((cell) => cell.bank === bank && cell.regime === regime));
  const wanted: Regime[] = [];
  if (!has('idle')) wanted.push('idle');
  if (!has('cruise') && !has('load')) wanted.push('cruise');
  if (wanted.length === 0) return undefined;
  const refusals = wanted.flatMap((regime) => seen.map((each) => each.missing[regime]));
  // A regime that one of the drives could tell lacks driving, not channels.
  const channels = refusals.every((refusal) => refusal !== undefined)
    ? refusals.flatMap((refusal) => refusal?.missing.channels ?? [])
    : [];
  const cold = seen.some((each) => each.cells.some((cell) => cell.coldOil && cell.value < 0));
  return {
    channels: [...new Set(channels)],
    conditions: wanted.map((regime) =>
      regime === 'idle' && cold ? `${CONDITION.idle} with engine oil >= 80 °C` : CONDITION[regime],
    ),
    words: listed(wanted.map((regime) => CONDITION[regime])),
  };
}

function measuresOf(cells: readonly Cell[], differences: readonly Difference[]): Record<string, Measure> {
  const measures: Record<string, Measure> = {};
  for (const { regime, bank, value } of cells) measures[`${regime}.${bank}`] = { value, unit: '%' };
  for (const { regime, value } of differences) measures[`${regime}.bankDifference`] = { value, unit: '%' };
  return measures;
}

/** The drives in which a cell that was found shows by itself. */
function eventsOf(
  observed: readonly Observed<TrimObservation>[],
  found: readonly Found[],
  limits: Readonly<Record<string, Limit>>,
): RuleEvent[] {
  return found.flatMap(({ cell: { regime, bank }, severity }) =>
    observed.flatMap(({ input, observation }) =>
      observation.cells
        .filter((cell) => cell.regime === regime && cell.bank === bank && Math.abs(cell.value) > limits.watch!.value)
        .map(
          ({ from, to, value, seconds }): RuleEvent => ({
            input,
            from,
            to,
            severity,
            peak: { value, unit: '%' },
            regime,
            bank,
            duration: { value: seconds, unit: 's' },
          }),
        ),
    ),
  );
}
