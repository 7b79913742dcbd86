import { exceeds } from '../../derived/exceeds.js';
import { MISFIRES } from '../../derived/misfires.js';
import { isRefusal } from '../../derived/recipe.js';
import { confidenceOf } from '../confidence.js';
import { type Context, defineRule, type Judgement, type LimitDefinition, type Observed } from '../rule.js';
import { clockTime, figure } from '../wording.js';
import {
  BAND,
  CRUISES,
  JERK_DERIVED,
  type JerkReading,
  type JerkStretch,
  RATE,
  readJerks,
  STRETCHES,
  scatterOf,
  WINDOW,
} from './smoothness-reading.js';

const CP = 'common practice, no source';
/** Share of the part load that has to jerk, and times the share of cruise that does: else it is the road. */
const OFTEN = 1 / 3;
const MORE = 3;
const CRUISE_SECONDS = CRUISES * WINDOW;
const CONDITION = `${STRETCHES} stretches of >= 2 s of part load in a held gear, and ${CRUISE_SECONDS} s of steady cruise on the same road`;

const limits: readonly LimitDefinition[] = [
  {
    name: 'watch',
    value: 3,
    unit: '1',
    comparison: '>',
    source: CP,
    about: `swing of the engine speed at ${BAND[0]} to ${BAND[1]} Hz at part load over that of the car's own cruise`,
  },
  { name: 'felt', value: 6, unit: 'rpm', comparison: '>', source: CP, about: 'the swing itself: less is not felt' },
];

interface Observation {
  readonly reading: JerkReading;
  /** Misfires counted per 1000 revolutions; NaN when not recorded. */
  readonly misfires: number;
}

export const smoothness = defineRule({
  id: 'engine.smoothness',
  system: 'engine',
  question: 'Does it pull smoothly at part load?',
  why: 'Jerks under load come from misfires that no counter has reached yet, a mixture or boost that hunts, or play in mounts and driveline.',
  weight: 1,
  needs: {
    channels: ['engineSpeed'],
    optional: ['misfireCount', 'pedalPosition', 'gear', 'vehicleSpeed'],
    derived: [...JERK_DERIVED, MISFIRES],
    conditions: [CONDITION, `engineSpeed at >= ${RATE} Hz`],
  },
  limits,
  method: `In a held gear, away from shifts and with the foot still, the engine speed is measured in windows of two seconds at ${BAND[0]} to ${BAND[1]} Hz, its smooth rise taken out. Part load (0.4 to 0.9 of full load) is compared with the cruise of the minute around it; what three stretches reach is judged, and a third of the part load has to show it.`,
  decoys: [
    'the road: rough stretches shake cruise and part load alike; the cruise of the minute around is the yardstick, and cruise that jerks a third as often clears the engine',
    'shifts: left out with 0.7 s around',
    "the driver's foot: windows in which the pedal moves by more than 12 points are left out",
    'full load and the limiter: left out, as are gears that change within a window',
    'a cruise that is quieter than anyone could feel: the swing itself has to be felt as well',
  ],
  cautions: [],
  proves:
    'Ten minutes on a smooth road: steady cruise at two speeds, and some long gentle accelerations in a high gear with the pedal held still; engine speed at 25 Hz or more, with pedal, speed, gear and load.',
  observe(view) {
    const reading = readJerks(view);
    if (isRefusal(reading)) return reading;
    const missed = view.derive(MISFIRES);
    let misfires = Number.NaN;
    if (!isRefusal(missed)) {
      let count = 0;
      let turns = 0;
      for (let i = 0; i < missed.added.length; i++) {
        count += missed.added[i]!;
        turns += missed.revolutions[i]!;
      }
      misfires = (1000 * count) / turns;
    }
    return { reading, misfires } satisfies Observation;
  },
  judge,
});

function judge(observed: readonly Observed<Observation>[], context: Context): Judgement {
  const { watch, felt } = context.limits();
  const usable = observed.filter(({ observation: { reading } }) => reading.cruises >= CRUISES);
  const all = usable
    .flatMap(({ input, observation: { reading } }) => reading.stretches.map((stretch) => ({ input, ...stretch })))
    .sort((a, b) => b.ratio - a.ratio);
  const judged = all[STRETCHES - 1];
  const most = Math.max(0, ...observed.map(({ observation: { reading } }) => reading.cruises));
  if (judged === undefined) {
    return {
      outcome: 'unproven',
      summary: `Too little to compare: ${all.length} stretches of part load in a held gear (${STRETCHES} are needed) and ${WINDOW * most} s of steady cruise (${CRUISE_SECONDS} s are needed).`,
      measures: { stretches: { value: all.length } },
      missing: { channels: [], conditions: [CONDITION] },
    };
  }
  const readings = usable.map(({ observation }) => observation.reading);
  const top = all.slice(0, STRETCHES);
  const windows = top.reduce((sum, each) => sum + each.windows, 0);
  const share = (ratios: readonly number[]): number =>
    ratios.filter((ratio) => ratio > watch!.value).length / Math.max(1, ratios.length);
  const jerking = share(readings.flatMap(({ ratios }) => ratios));
  const rough = share(readings.flatMap(({ cruiseRatios }) => cruiseRatios));
  const relative = Math.hypot(scatterOf(windows), Math.max(...readings.map(({ cruiseU }) => cruiseU)));
  const u = judged.ratio * relative;
  const amplitude = Math.min(...top.map((each) => each.amplitude));
  const strong = exceeds(amplitude, amplitude * scatterOf(windows), felt!.value, felt!.comparison) === 'beyond';
  const beyond = exceeds(judged.ratio, u, watch!.value, watch!.comparison);
  const engine = jerking >= OFTEN && jerking > MORE * rough;
  const base = {
    measures: {
      ratio: { value: judged.ratio },
      amplitude: { value: amplitude, unit: 'rpm' },
      cruise: { value: Math.min(...readings.map(({ cruise }) => cruise)), unit: 'rpm' },
      frequency: { value: judged.frequency, unit: 'Hz' },
      stretches: { value: all.length },
      share: { value: 100 * jerking, unit: '%' },
    },
    limits: [watch!, felt!],
  };
  const channels = readings.map(({ channel }) => channel);
  if (beyond === 'beyond' && strong && engine) return found(base, top, judged, u, observed, context, channels, windows);
  const notes = [
    ...(beyond === 'beyond' && strong && !engine
      ? [
          `It jerks in ${figure(100 * jerking, 0)} % of the part load and ${figure(100 * rough, 0)} % of the cruise only: that is the road or chance.`,
        ]
      : []),
  ];
  return {
    ...base,
    notes,
    outcome: 'clear',
    confidence: confidenceOf({
      margin: engine
        ? Math.max(watch!.value - judged.ratio, (judged.ratio * (felt!.value - amplitude)) / felt!.value)
        : u,
      uncertainty: u,
      samples: all.reduce((sum, each) => sum + each.windows, 0),
      channels,
    }),
    summary: `It pulls smoothly: the engine speed swings by ${figure(amplitude)} rpm at part load, ${figure(judged.ratio)} times its own cruise (limit ${figure(watch!.value)})${beyond === 'near' ? ', near the limit' : ''}.`,
  };
}

type Placed = JerkStretch & { readonly input: number };
type Base = Pick<Judgement, 'measures' | 'limits'>;

function found(
  base: Base,
  top: readonly Placed[],
  judged: Placed,
  u: number,
  observed: readonly Observed<Observation>[],
  context: Context,
  channels: readonly JerkReading['channel'][],
  windows: number,
): Judgement {
  const { watch } = context.limits();
  const missed = observed.some(({ observation }) => observation.misfires > 1);
  const counted = observed.some(({ observation }) => !Number.isNaN(observation.misfires));
  const misfire = 'single combustions that fail under load: plugs, coils, injectors';
  const slow = judged.frequency < 4;
  const others = [
    ...(slow ? ['boost or its actuator that hunts'] : ['play in engine mounts, driveline or a worn two-mass flywheel']),
    'mixture that hunts at that load: fuel pressure, air leaks, a lazy sensor',
    ...(slow ? ['play in engine mounts and driveline'] : ['boost or its actuator that hunts']),
    'pedal or throttle sensor with a worn track',
    'clutch that is controlled in slip and judders',
  ];
  return {
    ...base,
    outcome: 'finding',
    severity: 'watch',
    confidence: confidenceOf({
      margin: judged.ratio - watch!.value,
      uncertainty: u,
      samples: windows,
      channels,
    }),
    summary: `It jerks at part load: the engine speed swings by ${figure(judged.amplitude, 0)} rpm at about ${figure(judged.frequency, 0)} Hz (${figure(judged.speed, 0)} rpm, ${clockTime(judged.from)}), ${figure(judged.ratio)} times its own cruise (limit ${figure(watch!.value)}), in ${top.length} stretches and more.`,
    events: [...top]
      .sort((a, b) => a.input - b.input || a.from - b.from)
      .map(({ input, from, to, amplitude, ratio, frequency }) => ({
        input,
        from,
        to,
        severity: 'watch' as const,
        peak: { value: amplitude, unit: 'rpm' },
        ratio: { value: ratio },
        frequency: { value: frequency, unit: 'Hz' },
      })),
    causes: missed || !counted ? [misfire, ...others] : [...others, misfire],
    advice: [
      'Read the misfire counters by cylinder, and codes, before anything is cleared.',
      'Repeat in a gear higher and lower at the same engine speed: does it follow the engine or the road?',
      'Record fuel rail pressure, boost with its target, lambda and pedal in the same stretch: what swings with it?',
      'Look at plugs and coils, then at mounts and driveline play.',
    ],
  };
}
