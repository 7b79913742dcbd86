import { READ_OUT } from '../../derived/read-out.js';
import { isRefusal, refuse } from '../../derived/recipe.js';
import type { MonitorResult } from '../../recording/monitor-result.js';
import { confidenceOf } from '../confidence.js';
import { type Context, defineRule, type Judgement, type Limit, type Observed } from '../rule.js';
import { counted, figure, listed } from '../wording.js';

const CP = 'common practice, no source';
const READ = 'results of on-board monitoring (service 06): each test with its value, lower and upper limit';

/** Raw limits that stand for "no limit on this side". */
const OPEN_ENDS: readonly number[] = [65535, 32767, -32768, 4294967295];

export const monitorResults = defineRule({
  id: 'codes.monitor-results',
  system: 'codes',
  question: 'How near are the monitored parts to failing their own tests?',
  why: 'The control unit tests catalysts, sensors and more against limits long before it stores a code; the distance that is left tells what comes next.',
  weight: 1,
  needs: { channels: [], optional: [], derived: [READ_OUT], conditions: [READ] },
  readOuts: true,
  limits: [
    {
      name: 'watch',
      value: 10,
      unit: '%',
      comparison: '<',
      source: CP,
      about: 'distance to the nearest limit of a test, share of that limit (or of the band, where that is narrower)',
    },
    {
      name: 'repair',
      value: 0,
      unit: '%',
      comparison: '<',
      source:
        'SAE J1979 / ISO 15031-5 service 06: a test passes from its lower to its upper limit, both included (from memory)',
      about: 'the same distance: negative is outside the limits',
    },
  ],
  method:
    'Each result is set against its own lower and upper limit as the control unit reports them. What is left to the nearer limit is taken as a share of that limit, or of the band between both where that is narrower. A test whose value and limits are all 0 has not run since memory was cleared, and proves nothing.',
  decoys: [
    'value and limits all 0: the test has not run',
    'a limit at the end of its number range (65535): no limit on that side',
    'a lower limit of 0: nothing can be below it, so nearness to it is nothing',
    'a value that lies exactly on its limit has passed',
  ],
  cautions: ['Read only: no test is started from outside while the car moves.'],
  proves: `A read-out of the ${READ}, after a drive long enough for all monitors to run.`,
  observe(view) {
    const readOut = view.derive(READ_OUT);
    const results = isRefusal(readOut) ? [] : readOut.monitorResults;
    return results.length === 0
      ? refuse('no results of on-board monitoring were read out', { conditions: [READ] })
      : results;
  },
  judge,
});

interface Margin {
  readonly test: MonitorResult;
  /** %, negative outside the limits; NaN without a limit that counts. */
  readonly left: number;
  readonly limit: number;
  readonly side: 'lower' | 'upper';
}

function marginOf(test: MonitorResult): Margin {
  const low = OPEN_ENDS.includes(test.low) ? Number.NaN : test.low;
  const high = OPEN_ENDS.includes(test.high) ? Number.NaN : test.high;
  const band = high - low > 0 ? high - low : Number.POSITIVE_INFINITY;
  const share = (distance: number, limit: number): number => {
    const scale = Math.min(Math.abs(limit), band);
    if (scale > 0) return (100 * distance) / scale;
    // A limit of 0 has no share: only what lies beyond it counts.
    return distance < 0 ? Number.NEGATIVE_INFINITY : Number.NaN;
  };
  const below = share(test.value - low, low);
  const above = share(high - test.value, high);
  // Both ends 0 with a value: an unused row, not a test that failed.
  if (test.low === 0 && test.high === 0) return { test, left: Number.NaN, limit: 0, side: 'upper' };
  const lower = Number.isNaN(above) || below < above;
  return lower ? { test, left: below, limit: low, side: 'lower' } : { test, left: above, limit: high, side: 'upper' };
}

function judge(observed: readonly Observed<readonly MonitorResult[]>[], context: Context): Judgement {
  const named = context.limits();
  const all = observed.flatMap(({ observation }) => observation);
  const margins = all
    .filter(({ notRun }) => !notRun)
    .map(marginOf)
    .filter(({ left }) => !Number.isNaN(left))
    .sort((a, b) => a.left - b.left);
  const notRun = all.filter((test) => test.notRun).length;
  const outside = margins.filter(({ left }) => left < named.repair!.value);
  const close = margins.filter(({ left }) => left >= named.repair!.value && left < named.watch!.value);
  const worst = margins[0];
  const measures = {
    tests: { value: margins.length },
    outside: { value: outside.length },
    near: { value: close.length },
    notRun: { value: notRun },
    ...(worst === undefined || !Number.isFinite(worst.left) ? {} : { least: { value: worst.left, unit: '%' } }),
  };
  const base = {
    measures,
    limits: Object.values(named),
    notes: notRun === 0 ? [] : [`${counted(notRun, 'test')} had not run since memory was cleared.`],
    details: {
      tests: margins.slice(0, 60).map(({ test, left }) => ({
        name: test.name.slice(0, 60),
        value: test.value,
        low: test.low,
        high: test.high,
        unit: test.unit.slice(0, 12),
        left,
      })),
    },
  };
  if (worst === undefined) {
    return {
      ...base,
      outcome: 'unproven',
      summary:
        notRun > 0
          ? 'No monitored test had run: memory was cleared not long ago.'
          : 'No monitored test came with limits.',
      missing: {
        channels: [],
        conditions: ['a drive long enough for the monitors to run, then the results read again'],
      },
    };
  }
  if (outside.length > 0 || close.length > 0) {
    const severity = outside.length > 0 ? ('repair' as const) : ('watch' as const);
    const told = (outside.length > 0 ? outside : close)
      .slice(0, 3)
      .map((each) => toldOf(each, severity === 'repair' ? named.repair! : named.watch!));
    return {
      ...base,
      outcome: 'finding',
      severity,
      confidence: confidenceOf({ margin: 1, uncertainty: 0, samples: 19, channels: [] }),
      summary: `${severity === 'repair' ? 'Outside its limits' : 'Close to its limit'}: ${listed(told)}${outside.length > 0 && close.length > 0 ? `; ${counted(close.length, 'more test')} close to failing` : ''}.`,
      causes: [
        'the part that the test looks at is worn or damaged',
        'a part of the wrong kind, or none, in its place',
        'the test ran once under odd conditions',
      ],
      advice: [
        'Read the results again after a longer drive: a test that fails twice will set a code.',
        'Have the named part tested before buying.',
      ],
    };
  }
  return {
    ...base,
    outcome: 'clear',
    confidence: confidenceOf({
      margin: 1,
      uncertainty: 0,
      samples: margins.length,
      channels: [],
      doubts: [notRun > margins.length ? 0.6 : 1],
    }),
    summary: `${counted(margins.length, 'monitored test')} inside ${margins.length === 1 ? 'its' : 'their'} limits; the nearest, ${worst.test.name.slice(0, 60)}, has ${figure(worst.left, 0)} % left.`,
  };
}

function toldOf({ test, limit, side, left }: Margin, counts: Limit): string {
  const unit = test.unit === '' ? '' : ` ${test.unit.slice(0, 12)}`;
  const share =
    Number.isFinite(left) && left >= 0 ? `, ${figure(left, 1)} % left (watch below ${figure(counts.value)} %)` : '';
  return `${test.name.slice(0, 60)} at ${figure(test.value, 3)}${unit}, ${side} limit ${figure(limit, 3)}${unit}${share}`;
}
