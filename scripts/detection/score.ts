import { FAULTS, type Level } from '../simulate/index.js';
import { BORDER, COMPARED } from './borders.js';
import type { Answer, Report } from './trial.js';

/** A share with its count, so that an interval can be set beside it. */
export interface Share {
  readonly hits: number;
  readonly of: number;
}

/** One line of the table: a rule at one true level. */
export interface LevelRow {
  readonly rule: string;
  readonly level: Level | 'near';
  readonly injected: number;
  readonly found: Share;
  /** Found with the right severity. */
  readonly graded: Share;
  readonly unproven: Share;
}

export interface RuleRow {
  readonly rule: string;
  /** Findings on healthy drives (decoys included) of which the truth holds none. */
  readonly false: Share;
  readonly unproven: Share;
  /** Absolute errors of the measured quantity against the truth: median and 95th percentile. */
  readonly errors: readonly {
    readonly measure: string;
    readonly n: number;
    readonly median: number;
    readonly p95: number;
  }[];
  /** Shifts whose duration is off by no more than one sample interval and 10 ms. */
  readonly timed?: Share;
}

export interface Score {
  readonly drives: {
    readonly fault: number;
    readonly healthy: number;
    readonly decoy: number;
    readonly unusable: number;
  };
  readonly levels: readonly LevelRow[];
  readonly rules: readonly RuleRow[];
  /** Healthy drives with any false finding, over the whole catalogue. */
  readonly healthyFalse: Share;
  readonly decoys: readonly { readonly decoy: string; readonly false: Share }[];
  /** How the finding rate rises across each limit: distance to the limit in units of the border, and the share found. */
  readonly rise: readonly {
    readonly rule: string;
    readonly limit: string;
    readonly at: string;
    readonly found: Share;
  }[];
  readonly misses: readonly Miss[];
}

export interface Miss {
  readonly what: 'missed' | 'false' | 'unreadable';
  readonly rule: string;
  readonly seed: number;
  readonly wish: unknown;
  readonly truth: unknown;
  readonly answer: string;
  readonly margin: number;
}

export function score(reports: readonly Report[]): Score {
  const judged = new Set(reports[0]?.answers.map(({ rule }) => rule));
  const families = FAULTS.filter(({ rule }) => judged.has(rule));
  const usable = reports.filter((report) => report.unusable === undefined);
  const healthy = usable.filter((report) => report.trial.purpose === 'healthy');
  const decoys = usable.filter((report) => report.trial.purpose === 'decoy');
  const count = (purpose: string): number => reports.filter((report) => report.trial.purpose === purpose).length;
  return {
    drives: {
      fault: count('fault'),
      healthy: count('healthy'),
      decoy: count('decoy'),
      unusable: reports.length - usable.length,
    },
    levels: families.flatMap((family) => levelRows(family.rule, usable)),
    rules: families.map((family) => ruleRow(family.rule, healthy, usable)),
    healthyFalse: { hits: healthy.filter((report) => report.answers.some(isFalse)).length, of: healthy.length },
    decoys: decoyRows(decoys),
    rise: families.flatMap((family) => riseRows(family.rule, usable)),
    misses: misses(reports),
  };
}

function isFalse(answer: Answer): boolean {
  return answer.outcome === 'finding' && answer.truth.level === 'none' && !isNear(answer);
}

function isNear(answer: Answer): boolean {
  return answer.truth.margin < (BORDER[answer.rule] ?? 0);
}

function answersOf(rule: string, reports: readonly Report[]): Answer[] {
  return reports.flatMap((report) => report.answers.filter((answer) => answer.rule === rule));
}

function share(answers: readonly Answer[], holds: (answer: Answer) => boolean): Share {
  return { hits: answers.filter(holds).length, of: answers.length };
}

/** By the true level, not by the dialled one: what a drive really holds is known at its end. */
function levelRows(rule: string, reports: readonly Report[]): LevelRow[] {
  const faulty = reports.filter((report) => report.trial.dialled.some((dialled) => dialled.rule === rule));
  const all = answersOf(rule, faulty);
  const row = (level: Level | 'near', answers: readonly Answer[]): LevelRow => ({
    rule,
    level,
    injected: answers.length,
    found: share(answers, (answer) => answer.outcome === 'finding'),
    graded: share(answers, (answer) => answer.severity === answer.truth.level),
    unproven: share(answers, (answer) => answer.outcome === 'unproven' || answer.outcome === 'error'),
  });
  const rows = (['watch', 'repair', 'stop'] as const).map((level) =>
    row(
      level,
      all.filter((answer) => answer.truth.level === level && !isNear(answer)),
    ),
  );
  return [...rows, row('near', all.filter(isNear))].filter((each) => each.injected > 0);
}

function ruleRow(rule: string, healthy: readonly Report[], usable: readonly Report[]): RuleRow {
  const answers = answersOf(rule, healthy);
  return {
    rule,
    false: share(answers, isFalse),
    unproven: share(answers, (answer) => answer.outcome === 'unproven'),
    errors: errorsOf(rule, answersOf(rule, usable)),
    ...timedOf(answersOf(rule, usable)),
  };
}

function timedOf(answers: readonly Answer[]): Pick<RuleRow, 'timed'> {
  const all = answers.flatMap(({ shifts }) => shifts ?? []);
  if (all.length === 0) return {};
  return { timed: { hits: all.filter(({ error, allowed }) => error <= allowed).length, of: all.length } };
}

function errorsOf(rule: string, answers: readonly Answer[]): RuleRow['errors'] {
  return (COMPARED[rule] ?? []).flatMap((measure) => {
    const errors: number[] = [];
    for (const answer of answers) {
      const ours = answer.measures[measure];
      const theirs = answer.truth.measures[measure];
      if (answer.outcome === 'unproven' || typeof ours !== 'number' || theirs === undefined) continue;
      errors.push(Math.abs(ours - theirs));
    }
    errors.sort((a, b) => a - b);
    if (errors.length === 0) return [];
    const at = (q: number): number => errors[Math.min(errors.length - 1, Math.floor(q * errors.length))]!;
    return [{ measure, n: errors.length, median: at(0.5), p95: at(0.95) }];
  });
}

function decoyRows(reports: readonly Report[]): Score['decoys'] {
  const names = [...new Set(reports.map((report) => report.trial.decoy ?? ''))].sort();
  return names.map((decoy) => {
    const own = reports.filter((report) => report.trial.decoy === decoy);
    return { decoy, false: { hits: own.filter((report) => report.answers.some(isFalse)).length, of: own.length } };
  });
}

/** Distance steps, in borders, below and above the nearest limit. */
const STEPS = [
  ['below, 2 to 4 borders', -4, -2],
  ['below, 1 to 2 borders', -2, -1],
  ['below, within 1 border', -1, 0],
  ['above, within 1 border', 0, 1],
  ['above, 1 to 2 borders', 1, 2],
  ['above, 2 to 4 borders', 2, 4],
] as const;

/** At the lowest limit only: below it the truth holds nothing, above it a watch. */
function riseRows(rule: string, reports: readonly Report[]): Score['rise'] {
  const border = BORDER[rule];
  if (border === undefined || rule === 'usage.launches') return [];
  const answers = answersOf(rule, reports).filter(
    (answer) => answer.outcome !== 'unproven' && (answer.truth.level === 'none' || answer.truth.level === 'watch'),
  );
  return STEPS.flatMap(([at, from, to]) => {
    const inside = answers.filter((answer) => {
      const distance = (answer.truth.level === 'none' ? -1 : 1) * (answer.truth.margin / border);
      return distance >= from && distance < to;
    });
    return inside.length === 0
      ? []
      : [{ rule, limit: 'lowest', at, found: share(inside, (answer) => answer.outcome === 'finding') }];
  });
}

function misses(reports: readonly Report[]): Miss[] {
  const list: Miss[] = [];
  for (const report of reports) {
    const base = { seed: report.trial.wish.seed, wish: report.trial.wish };
    if (report.unusable !== undefined) {
      list.push({ ...base, what: 'unreadable', rule: '', truth: {}, answer: report.unusable, margin: 0 });
      continue;
    }
    for (const answer of report.answers) {
      const dialled = report.trial.dialled.some((each) => each.rule === answer.rule);
      const missed = dialled && answer.truth.level !== 'none' && !isNear(answer) && answer.outcome !== 'finding';
      if (!missed && !isFalse(answer)) continue;
      list.push({
        ...base,
        what: missed ? 'missed' : 'false',
        rule: answer.rule,
        truth: answer.truth,
        answer: `${answer.outcome}${answer.severity === undefined ? '' : ` ${answer.severity}`}: ${answer.summary}`,
        margin: answer.truth.margin,
      });
    }
  }
  return list.sort((a, b) => b.margin - a.margin);
}
