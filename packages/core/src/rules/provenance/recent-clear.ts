import { MONITORS, openMonitors } from '../../codes/readiness.js';
import { lastValue } from '../../derived/last-value.js';
import { READ_OUT } from '../../derived/read-out.js';
import { isRefusal, refuse } from '../../derived/recipe.js';
import { confidenceOf } from '../confidence.js';
import { type Context, defineRule, type Judgement, type Limit, type LimitDefinition, type Observed } from '../rule.js';
import { counted, figure, listed } from '../wording.js';

const CP = 'common practice, no source';
const MEMORY: readonly string[] = ['distanceSinceClear', 'warmUpsSinceClear', 'monitorsOpen'];

const limits: readonly LimitDefinition[] = [
  { name: 'distance', value: 100, unit: 'km', comparison: '<', source: CP, about: 'distance since codes were cleared' },
  { name: 'warmUps', value: 10, unit: '1', comparison: '<', source: CP, about: 'warm-ups since codes were cleared' },
  {
    name: 'monitors',
    value: 2,
    unit: '1',
    comparison: '>=',
    source:
      'from memory: 40 CFR 85.2222 and 66 FR 18155, inspections accept one open monitor (two before model year 2001)',
    about: 'readiness monitors not complete',
  },
];

/** A car with no more distance than this (km) beyond the last clearing was cleared when it was built. */
const NEW = 50;
/** A battery change this near (km) explains open monitors. */
const BATTERY = 100;

interface Memory {
  readonly distance: number;
  readonly warmUps: number;
  /** min */
  readonly time: number;
  readonly odometer: number;
  readonly battery: number;
  /** Monitors not complete; NaN when not read. */
  readonly open: number;
  readonly openNames: readonly string[];
  /** Every learned correction reads exactly 0. */
  readonly allDefault: boolean;
  readonly permanent: readonly string[];
  readonly firm: readonly string[];
  /** Confirmed codes that the control unit counts; NaN when it does not say. */
  readonly counted: number;
  readonly list: boolean;
}

export const recentClear = defineRule({
  id: 'provenance.recent-clear',
  system: 'provenance',
  question: 'Was the fault memory emptied just before?',
  why: 'An emptied memory hides faults for days: no code then means nothing, and who clears codes before a sale has a reason.',
  weight: 1,
  needs: {
    channels: [],
    optional: [
      'distanceSinceClear',
      'warmUpsSinceClear',
      'timeSinceClear',
      'monitorsOpen',
      'odometer',
      'batteryChangeDistance',
      'fuelTrimLong',
      'clutchAdaptation',
    ],
    derived: [READ_OUT],
    conditions: ['distance and warm-ups since codes were cleared, and readiness monitors, read out'],
  },
  readOuts: true,
  limits,
  method:
    'Distance and warm-ups since the last clearing are counted by the control unit itself and start at zero only when somebody clears. A permanent code without its stored code was cleared and will come back. Open readiness monitors alone also follow a flat or changed battery, so they count with less confidence, and not at all where distance and warm-ups say that the clearing is long past. Corrections that all read exactly 0 are named beside it.',
  decoys: [
    'counters at the end of their range (255, 65535): full or not supported, left out',
    'battery changed: monitors open, counters running on',
    'one open monitor, or a test that seldom finishes in winter',
    'a new car: as far since clearing as in all',
  ],
  cautions: ['Read codes before anything else, and clear none.'],
  proves:
    'Distance and warm-ups since codes were cleared, the readiness of the monitors and the codes with permanent ones, read out of the engine control unit.',
  observe(view) {
    const last = (
      id:
        | 'distanceSinceClear'
        | 'warmUpsSinceClear'
        | 'timeSinceClear'
        | 'monitorsOpen'
        | 'odometer'
        | 'batteryChangeDistance',
    ) => lastValue(view.optional(id));
    const readOut = view.derive(READ_OUT);
    const readiness = isRefusal(readOut) ? undefined : readOut.readiness;
    const codes = isRefusal(readOut) ? undefined : readOut.codes;
    const open = readiness === undefined ? undefined : openMonitors(readiness);
    const learned = [...view.family('fuelTrimLong'), ...view.family('clutchAdaptation')]
      .map(lastValue)
      .filter((x) => !Number.isNaN(x));
    const memory: Memory = {
      distance: last('distanceSinceClear'),
      warmUps: last('warmUpsSinceClear'),
      time: last('timeSinceClear'),
      odometer: last('odometer'),
      battery: last('batteryChangeDistance'),
      open: open?.length ?? last('monitorsOpen'),
      openNames: (open ?? []).map(({ id }) => MONITORS[id]),
      allDefault: !isRefusal(readOut) && learned.length > 1 && learned.every((x) => x === 0),
      permanent: (codes ?? []).filter(({ statuses }) => statuses.includes('permanent')).map(({ code }) => code.code),
      firm: (codes ?? [])
        .filter(({ statuses }) => statuses.some((s) => s === 'stored' || s === 'pending'))
        .map(({ code }) => code.code),
      counted: readiness?.codeCount ?? Number.NaN,
      list: codes !== undefined,
    };
    const says =
      !Number.isNaN(memory.distance) || !Number.isNaN(memory.warmUps) || !Number.isNaN(memory.open) || memory.list;
    return says ? memory : refuse('nothing tells when codes were cleared', { channels: MEMORY });
  },
  judge,
});

function judge(observed: readonly Observed<Memory>[], context: Context): Judgement {
  const named = context.limits();
  const all = observed.map(({ observation }) => observation);
  const least = (of: (m: Memory) => number): number =>
    Math.min(...all.map(of).filter((x) => !Number.isNaN(x)), Number.POSITIVE_INFINITY);
  const known = (x: number): number => (Number.isFinite(x) ? x : Number.NaN);
  const distance = known(least((m) => m.distance));
  const warmUps = known(least((m) => m.warmUps));
  const time = known(least((m) => m.time));
  const odometer = known(least((m) => m.odometer));
  const battery = known(least((m) => m.battery));
  const opened = all.filter((m) => !Number.isNaN(m.open)).sort((a, b) => b.open - a.open)[0];
  const open = opened?.open ?? Number.NaN;
  const firm = new Set(all.flatMap((m) => m.firm));
  // A list of permanent codes alone does not show that the stored ones were read.
  const readFirm = firm.size > 0 || all.some((m) => m.counted === 0);
  const orphans = readFirm ? [...new Set(all.flatMap((m) => m.permanent))].filter((code) => !firm.has(code)) : [];
  const fresh = odometer - distance <= NEW;
  const measures = {
    ...(Number.isNaN(distance) ? {} : { distance: { value: distance, unit: 'km' } }),
    ...(Number.isNaN(warmUps) ? {} : { warmUps: { value: warmUps } }),
    ...(Number.isNaN(time) ? {} : { time: { value: time, unit: 'min' } }),
    ...(Number.isNaN(open) ? {} : { monitorsOpen: { value: open } }),
    permanentAlone: { value: orphans.length },
  };
  const near = distance < named.distance!.value && !fresh;
  const few = warmUps < named.warmUps!.value && !fresh;
  const long = distance >= named.distance!.value && !(warmUps < named.warmUps!.value);
  const idle = open >= named.monitors!.value && !long && !fresh;
  const defaults = all.some((m) => m.allDefault);
  const changed = Math.abs(odometer - battery) < BATTERY;
  const notes = [
    ...(fresh
      ? ['The car has hardly more distance than since its codes were cleared: new, or its odometer was exchanged.']
      : []),
    ...(open >= named.monitors!.value && long
      ? [
          `${counted(open, 'monitor')} open (${listed(opened!.openNames)}) although the last clearing is long past: battery disconnected, or driven in short trips.`,
        ]
      : []),
    ...(defaults ? ['Every learned correction reads exactly 0: relearned not long ago.'] : []),
    ...(changed ? ['The battery was changed within the last 100 km.'] : []),
  ];
  const base = { measures, limits: Object.values(named), notes };
  const signs = [
    ...(near ? [`${figure(distance, 0)} km since codes were cleared (limit ${figure(named.distance!.value)} km)`] : []),
    ...(few ? [`${counted(warmUps, 'warm-up')} since then (limit ${figure(named.warmUps!.value)})`] : []),
    ...(idle
      ? [
          `${counted(open, 'readiness monitor')} not complete${opened!.openNames.length > 0 ? ` (${listed(opened!.openNames)})` : ''}, ${figure(named.monitors!.value)} or more count`,
        ]
      : []),
    ...(orphans.length > 0
      ? [`${listed(orphans)} ${orphans.length === 1 ? 'is' : 'are'} kept as permanent without a stored code`]
      : []),
  ];
  if (signs.length > 0) {
    const counters = near || few || orphans.length > 0;
    return {
      ...base,
      outcome: 'finding',
      severity: 'watch',
      confidence: confidenceOf({
        margin: 1,
        uncertainty: 0,
        samples: 4 + 5 * signs.length,
        channels: [],
        doubts: [counters ? 1 : changed ? 0.5 : 0.7],
      }),
      summary: `The fault memory was emptied not long ago: ${signs.join('; ')}.`,
      causes: counters
        ? ['codes cleared before the sale', 'codes cleared after a repair', ...(changed ? ['battery changed'] : [])]
        : ['battery changed or flat', 'codes cleared', 'driven in short trips only'],
      advice: [
        'Ask the seller when and why the memory was emptied, and for the bill of the repair.',
        'Drive 100 km with cold starts until every monitor is complete, and read the codes again before deciding.',
        ...(orphans.length > 0
          ? [`Find the cause of ${listed(orphans)}: a permanent code goes only when the fault is mended.`]
          : []),
      ],
    };
  }
  const counted2 = !Number.isNaN(distance) || !Number.isNaN(warmUps);
  if (!counted2 && Number.isNaN(open))
    return openJudgement(base, 'The codes were read, but nothing tells when they were cleared.');
  if (!counted2 && open > 0)
    return openJudgement(
      base,
      `${counted(open, 'readiness monitor')} open, and neither distance nor warm-ups since codes were cleared were read.`,
    );
  return {
    ...base,
    outcome: 'clear',
    confidence: confidenceOf({
      margin: 1,
      uncertainty: 0,
      samples: 9,
      channels: [],
      doubts: [counted2 ? 1 : 0.8, long || fresh ? 1 : 0.9],
    }),
    summary: clearSummary(distance, warmUps, open, named),
  };
}

function openJudgement(base: Pick<Judgement, 'measures'>, summary: string): Judgement {
  return { ...base, outcome: 'unproven', summary, missing: { channels: MEMORY, conditions: [] } };
}

function clearSummary(distance: number, warmUps: number, open: number, named: Readonly<Record<string, Limit>>): string {
  const parts = [
    ...(Number.isNaN(distance) ? [] : [`${figure(distance, 0)} km (limit ${figure(named.distance!.value)} km)`]),
    ...(Number.isNaN(warmUps) ? [] : [`${counted(warmUps, 'warm-up')} (limit ${figure(named.warmUps!.value)})`]),
  ];
  const monitors = Number.isNaN(open)
    ? ''
    : open === 0
      ? 'every readiness monitor complete'
      : `${counted(open, 'readiness monitor')} open`;
  if (parts.length === 0)
    return `${monitors.charAt(0).toUpperCase()}${monitors.slice(1)}: the memory was not emptied just before.`;
  return `${listed(parts)} since codes were cleared${monitors === '' ? '' : `, ${monitors}`}.`;
}
