import { AMBIENT } from '../../derived/ambient.js';
import { FUEL } from '../../derived/fuel.js';
import { FUEL_CUT } from '../../derived/fuel-cut.js';
import { SAMPLES } from '../../derived/samples.js';
import type { Channel } from '../../recording/recording.js';
import { confidenceOf } from '../confidence.js';
import { levelOf, limitOf, rankOf, worst } from '../ladder.js';
import {
  type Context,
  defineRule,
  type Judgement,
  type LimitDefinition,
  type Measure,
  type Observed,
  type Severity,
} from '../rule.js';
import { figure } from '../wording.js';
import { type FilterObservation, HOT, readFilters, SLOWEST } from './particulate-filter-reading.js';
import { highestFlow, REACH, type Slope, slopeOf, together } from './particulate-filter-slope.js';

const CP = 'common practice, no source';
const PROFILE = 'exhaust.particulateFilter with pressureDrop and flow in the vehicle profile, for the clean filter';
const REST = 'key on with the engine at rest for >= 10 s, recorded';
const LOADED = `hot exhaust (>= ${HOT} °C) up to >= ${100 * REACH} % of the volume flow of the profile, particulateFilterPressureDrop at >= ${SLOWEST} Hz`;
const LAW =
  'A particulate filter that is missing, emptied or bypassed is an offence on public roads in most places, whoever did it; ask the local law before buying, and have it put right before driving.';

const limits: readonly LimitDefinition[] = (
  [
    ['emptied-watch', 20, '<'],
    ['blocked-watch', 200, '>'],
    ['blocked-repair', 300, '>'],
  ] as const
).map(([name, value, comparison]) => ({
  name,
  value,
  unit: '%',
  comparison,
  source: CP,
  about: 'pressure drop over volume flow, offset taken out, of that of the profile',
}));

export const particulateFilter = defineRule({
  id: 'exhaust.particulate-filter',
  system: 'exhaust',
  question: 'Is the particulate filter there, and is it free?',
  why: 'An emptied filter fails the inspection and is unlawful on the road; a blocked one takes power, overheats the turbocharger and is dear.',
  weight: 2,
  slow: true,
  needs: {
    channels: ['particulateFilterPressureDrop'],
    optional: [
      'particulateFilterTemperature',
      'catalystTemperature',
      'catalystTemperatureModelled',
      'airMassFlow',
      'exhaustMassFlow',
      'engineSpeed',
      'particulateSoot',
      'particulateAsh',
    ],
    derived: [SAMPLES, AMBIENT, FUEL, FUEL_CUT],
    conditions: [PROFILE, REST, LOADED],
  },
  readOuts: true,
  limits,
  method:
    'Volume flow is mass flow times temperature over pressure of the gas. What the sensor shows with the engine at rest is taken off; where that was not recorded, the drives have to reach from little flow to much and tell it themselves. Pressure drop over volume flow is fitted by a share that grows with the flow and one that grows with its square, in hot gas without fuel cuts and while the air flow is calm, each class of flow counted alike; what grows with the flow is brought to the viscosity, what grows with its square to the density of the gas that the profile names (600 degC when it does not). The chord at the flow of the profile, or at the highest flow below it, is judged as a share of what the profile names. Stored soot and ash sort the causes and judge nothing by themselves.',
  decoys: [
    'an offset of the sensor, seen at key on: taken out, and told',
    'none fitted by design: the profile says so, and the question falls away',
    'cold gas: little volume, thick in flow; not counted',
    'a sensor that never moves: not believed',
    'low flow: the drop is small beside the error of the sensor; left open',
  ],
  cautions: [
    LAW,
    'The exhaust burns skin and lights dry grass, most of all while the filter is burnt free; a car is looked at from below on rated stands only, with the engine off.',
  ],
  proves:
    'Key on for ten seconds before the start, then warm, with a full-load pull where it is lawful and safe: pressure drop over the filter, its temperature and air mass flow at 5 Hz or faster. The profile has to name the pressure drop of the clean filter at a volume flow, or say that the car has none by design.',
  notApplicable: ({ exhaust }) =>
    exhaust.particulateFilter?.fitted === false
      ? 'The profile says that this car has no particulate filter.'
      : undefined,
  observe: (view) => readFilters(view),
  judge,
});

interface Judged {
  readonly bank: string;
  readonly slope: Slope;
  /** % of the profile, and its standard uncertainty; NaN without a profile. */
  readonly share: number;
  readonly u: number;
  readonly offset: number;
  readonly samples: number;
  readonly level?: Severity;
  readonly what: 'emptied' | 'blocked';
}

function judgedOf(observed: readonly Observed<FilterObservation>[], context: Context, bank: string): Judged[] {
  const { pressureDrop, flow, temperature } = context.vehicle.exhaust.particulateFilter ?? {};
  const readings = observed
    .flatMap(({ observation }) => observation.filters)
    .filter((each) => each.bank === bank && each.disbelief === undefined && !each.slow);
  const rested = readings.filter(({ offset }) => offset !== undefined);
  const restless = readings.filter(({ offset }) => offset === undefined);
  for (const own of [rested, restless]) {
    if (own.length === 0) continue;
    const classes = together(own.map((each) => each.classes));
    const offsets = own.flatMap(({ offset }) => (offset === undefined ? [] : [offset]));
    const u = Math.max(...offsets.map((offset) => offset.u));
    const slope = slopeOf(
      classes,
      flow ?? highestFlow(classes),
      offsets.length > 0 ? u : Number.NaN,
      temperature !== undefined,
    );
    if (slope === undefined) continue;
    const reference = pressureDrop === undefined || flow === undefined ? Number.NaN : pressureDrop / flow;
    const share = (100 * slope.value) / reference;
    const error = (100 * slope.u) / reference;
    const named = context.limits();
    const blocked = levelOf(share, error, named, 'blocked');
    const emptied = levelOf(share, error, named, 'emptied');
    const level = worst([blocked, emptied]);
    return [
      {
        bank,
        slope,
        share,
        u: error,
        offset: offsets.length > 0 ? offsets[0]!.value : (slope.intercept ?? Number.NaN),
        samples: own.reduce((sum, { samples }) => sum + samples, 0),
        ...(level === undefined ? {} : { level }),
        what: emptied !== undefined || (blocked === undefined && share < 100) ? 'emptied' : 'blocked',
      },
    ];
  }
  return [];
}

function judge(observed: readonly Observed<FilterObservation>[], context: Context): Judgement {
  const named = context.limits();
  const banks = [...new Set(observed.flatMap(({ observation }) => observation.filters.map(({ bank }) => bank)))].sort();
  const judged = banks.flatMap((bank) => judgedOf(observed, context, bank));
  const soot = Math.max(...observed.map(({ observation }) => finite(observation.soot)));
  const ash = Math.max(...observed.map(({ observation }) => finite(observation.ash)));
  const measures: Record<string, Measure> = {};
  for (const { bank, slope, share, offset } of judged) {
    const tail = bank === '' ? '' : `.${bank}`;
    measures[`pressureDrop${tail}`] = { value: slope.value * slope.flow, unit: 'kPa' };
    measures[`flow${tail}`] = { value: slope.flow, unit: 'm3/h' };
    measures[`offset${tail}`] = { value: offset, unit: 'kPa' };
    if (!Number.isNaN(share)) measures[`share${tail}`] = { value: share, unit: '%' };
  }
  if (soot >= 0) measures.soot = { value: soot, unit: 'g' };
  if (ash >= 0) measures.ash = { value: ash, unit: 'g' };
  const base = { measures, limits: Object.values(named), notes: notes(observed, judged, soot, ash) };
  const severity = worst(judged.map(({ level }) => level));
  const channels = channelsOf(observed);
  if (severity !== undefined) {
    const led = judged.find(({ level }) => rankOf(level) === rankOf(severity))!;
    return {
      ...base,
      outcome: 'finding',
      severity,
      confidence: sure(led, limitOf(named, severity, led.what).value, observed, channels),
      summary: `${judged
        .filter(({ level }) => level !== undefined)
        .map((each) => told(each, limitOf(named, each.level!, each.what).value))
        .join('; ')}.`,
      ...(led.what === 'emptied' ? EMPTIED : blockedBy(soot, ash)),
    };
  }
  return calm(observed, context, banks, judged, base, channels);
}

const EMPTIED = {
  causes: [
    'filter emptied, drilled or replaced by a pipe',
    'filter broken or melted inside',
    'hose of the pressure sensor off, blocked or melted',
  ],
  advice: [
    'Hoses and plug of the pressure sensor first: a loose hose looks like a missing filter.',
    'Read codes and readiness of the filter; ask for the papers of exhaust work and for the original part.',
    'Look for welds at the shell and for soot in the tailpipe; have the particle number measured at a test station.',
  ],
};

function blockedBy(soot: number, ash: number) {
  const byAsh = 'full of ash: oil consumption, or the end of its life; ash does not burn';
  const bySoot = 'full of soot: short trips, or a mixture or injector that makes soot';
  return {
    causes: [
      ...(ash > soot ? [byAsh, bySoot] : [bySoot, byAsh]),
      'filter melted or broken, with a channel closed',
      'hose of the pressure sensor blocked, or water in it',
    ],
    advice: [
      'Hoses of the pressure sensor; stored soot and ash, and when the filter was burnt free last.',
      'No full load until it is free: back pressure heats turbine and exhaust valves.',
      'Let a workshop burn it free by its own procedure, in the open and under watch; where ash fills it, cleaning or another filter.',
      'Find what made it: oil consumption, misfire, injectors, short trips only.',
    ],
  };
}

function told({ bank, slope, share, what }: Judged, limit: number): string {
  const which = bank === '' ? 'The particulate filter' : `The particulate filter of bank ${bank.slice(4)}`;
  return `${which} takes ${figure(slope.value * slope.flow)} kPa at ${figure(slope.flow, 0)} m3/h, ${figure(share, 0)} % of what the profile names (limit ${what === 'emptied' ? 'below' : 'above'} ${figure(limit, 0)} %)`;
}

function sure(
  led: Judged,
  limit: number,
  observed: readonly Observed<FilterObservation>[],
  channels: readonly Channel[],
): number {
  return confidenceOf({
    margin: Math.abs(led.share - limit),
    uncertainty: led.u,
    samples: led.samples,
    channels,
    doubts: [
      led.slope.intercept === undefined ? 1 : 0.9,
      observed.some(({ observation }) => observation.heatFrom !== undefined) ? 0.9 : 1,
    ],
  });
}

function calm(
  observed: readonly Observed<FilterObservation>[],
  context: Context,
  banks: readonly string[],
  judged: readonly Judged[],
  base: { readonly measures: Readonly<Record<string, Measure>> },
  channels: readonly Channel[],
): Judgement {
  const open = (summary: string, missing: readonly string[], conditions: readonly string[]): Judgement => ({
    ...base,
    outcome: 'unproven',
    summary,
    missing: { channels: missing, conditions },
  });
  const filters = observed.flatMap(({ observation }) => observation.filters);
  const dead = filters.find(({ disbelief }) => disbelief !== undefined);
  if (dead !== undefined)
    return open(
      `The pressure drop over the particulate filter ${dead.disbelief}. It shows nothing of the filter; look at sensor, hoses and calibration.`,
      [dead.channel.id],
      [LOADED],
    );
  if (banks.length === 0 || judged.length < banks.length) {
    const obstacle = observed.find(({ observation }) => observation.obstacle !== undefined)?.observation.obstacle;
    const top = Math.max(0, ...filters.map(({ classes }) => finite(highestFlow(classes))));
    const slow = filters.filter((each) => each.slow).map(({ channel }) => `${channel.id} at >= ${SLOWEST} Hz`);
    return open(
      obstacle === undefined
        ? `The exhaust flow was seen up to ${figure(top, 0)} m3/h: too little to judge the particulate filter.`
        : `${obstacle.reason.charAt(0).toUpperCase()}${obstacle.reason.slice(1)}.`,
      obstacle?.missing.channels ?? [],
      [...new Set([...slow, LOADED, ...(filters.some(({ offset }) => offset === undefined) ? [REST] : [])])],
    );
  }
  const led = judged.reduce((a, b) => (Math.abs(b.share - 100) > Math.abs(a.share - 100) ? b : a));
  if (Number.isNaN(led.share))
    return open(
      `The particulate filter takes ${figure(led.slope.value * led.slope.flow)} kPa at ${figure(led.slope.flow, 0)} m3/h; the profile does not say what a clean one takes.`,
      [],
      [PROFILE],
    );
  const limit = limitOf(context.limits(), 'watch', led.what).value;
  return {
    ...base,
    outcome: 'clear',
    confidence: sure(led, limit, observed, channels),
    summary: `${judged.map((each) => told(each, limitOf(context.limits(), 'watch', each.what).value)).join('; ')}.`,
  };
}

function notes(
  observed: readonly Observed<FilterObservation>[],
  judged: readonly Judged[],
  soot: number,
  ash: number,
): string[] {
  const list = new Set<string>();
  for (const { slope, offset } of judged)
    list.add(
      slope.intercept === undefined
        ? `Sensor offset of ${figure(offset, 2)} kPa at rest taken out.`
        : `No time at rest was recorded: an offset of ${figure(offset, 2)} kPa was taken from the drives themselves.`,
    );
  for (const { observation } of observed)
    if (observation.heatFrom !== undefined)
      list.add('Temperature of the gas taken from the catalyst, not at the filter.');
  if (soot >= 0) list.add(`Stored soot ${figure(soot)} g; it judges nothing by itself.`);
  if (ash >= 0) list.add(`Stored ash ${figure(ash)} g; it judges nothing by itself.`);
  return [...list];
}

function channelsOf(observed: readonly Observed<FilterObservation>[]): Channel[] {
  return observed.flatMap(({ observation }) => observation.filters.map(({ channel }) => channel));
}

/** NaN becomes -Infinity, so that a maximum passes it over. */
function finite(x: number): number {
  return Number.isNaN(x) ? Number.NEGATIVE_INFINITY : x;
}
