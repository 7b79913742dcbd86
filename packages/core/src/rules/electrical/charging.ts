import { CRANK_HZ, CRANK_VOLTAGES } from '../../derived/crank-voltage.js';
import { isRefusal } from '../../derived/recipe.js';
import { ROW_SECONDS } from '../../derived/row-seconds.js';
import { SAMPLES } from '../../derived/samples.js';
import { SPEED } from '../../derived/speed.js';
import { confidenceOf } from '../confidence.js';
import { limitOf, worst } from '../ladder.js';
import { type Context, defineRule, type Judgement, type LimitDefinition } from '../rule.js';
import { figure, listed } from '../wording.js';
import { CRANK_LIMITS, type JudgedCrank, judgeCrank } from './charging-crank.js';
import { type ChargingReading, HELD, readCharging, SLOWEST } from './charging-reading.js';
import { type Drives, flat, standing, weak } from './charging-signs.js';
import { FLAT_ADVICE, FLAT_CAUSES, HIGH_ADVICE, HIGH_CAUSES, WEAK_ADVICE, WEAK_CAUSES } from './charging-wording.js';

const CP = 'common practice, no source';
/** Seconds above 1500 rpm that show whether it charges. */
const ENOUGH = 60;
const RUN = `engine above 1500 rpm for >= ${ENOUGH} s`;
const START = `a start of the engine, systemVoltage and engineSpeed at >= ${CRANK_HZ} Hz`;

const limits: readonly LimitDefinition[] = [
  {
    name: 'low-repair',
    value: 12.4,
    unit: 'V',
    comparison: '<',
    source: CP,
    about: 'above 1500 rpm, where the charging voltage was never reached',
  },
  { name: 'low-time', value: ENOUGH, unit: 's', comparison: '>=', source: CP, about: 'time below it, added up' },
  {
    name: 'charging',
    value: 13.2,
    unit: 'V',
    comparison: '>',
    source: CP,
    about: 'reached for 2 s with the engine running: it does charge',
  },
  {
    name: 'low-stop',
    value: 11.8,
    unit: 'V',
    comparison: '<',
    source: CP,
    about: `while driving, for ${HELD} s`,
  },
  { name: 'high-watch', value: 15.2, unit: 'V', comparison: '>', source: CP, about: `for ${HELD} s` },
  { name: 'high-stop', value: 15.8, unit: 'V', comparison: '>', source: CP, about: `for ${HELD} s` },
  ...CRANK_LIMITS,
];

export const charging = defineRule({
  id: 'electrical.charging',
  system: 'electrical',
  question: 'Does it charge, and does the battery carry a start?',
  why: 'Low voltage makes control units, pumps and clutches fail at random; too much destroys them; a weak battery hides behind a warm day.',
  weight: 1,
  needs: {
    channels: ['systemVoltage', 'engineSpeed'],
    optional: ['alternatorVoltageTarget', 'batteryTemperature', 'ambientTemperature', 'coolantTemperature'],
    derived: [SAMPLES, ROW_SECONDS, SPEED, CRANK_VOLTAGES],
    conditions: [RUN, `systemVoltage at >= ${SLOWEST} Hz`],
  },
  limits,
  method:
    'Charging: time below the limit above 1500 rpm is added up, and counts only where the voltage of charging was never held for two seconds in any drive; voltages that stand for ten seconds are held against the further limits. Cranking: the median voltage from a tenth of a second after the first rotation until the engine fires, against the load-test table at the temperature of the battery (its sensor, the air outside, or the cold engine).',
  decoys: [
    'charge controlled by demand (12.4 to 15.0 V): low stretches count only where it never charges, and not while no charge is wanted',
    'inrush of the starter, dips when a large consumer comes on: too short',
    'a cold battery sags more: the table follows its temperature; below its cold end nothing is judged',
    'the control unit reads up to 0.3 V less than the battery holds while cranking: part of the uncertainty',
    'another voltage under the same name: not believed outside of what a 12 V control unit works with',
    'slow logs: no plateau without three fresh samples, said so',
  ],
  cautions: [
    'Batteries give off hydrogen: no sparks or flames, eyes protected; ignition off before a lead is touched; 48 V and high-voltage parts only by qualified people.',
  ],
  proves:
    'Begin the recording with the ignition on before a start, systemVoltage and engineSpeed at 10 Hz; then drive for some minutes with lamps, blower and heated screen on.',
  observe: (view, context) => readCharging(view, context.limits()),
  judge,
});

function judge(observed: Drives, context: Context): Judgement {
  const named = context.limits();
  const readings = observed.map(({ observation }) => observation);
  const usable = observed.filter(({ observation }) => !observation.constant);
  const cranks = observed.flatMap(({ input, observation }) =>
    isRefusal(observation.crank)
      ? []
      : observation.crank.plateaus.flatMap((plateau) => {
          const judged = judgeCrank(plateau, named);
          return judged === undefined ? [] : [{ input, ...judged }];
        }),
  );
  const weakest = cranks.reduce<(typeof cranks)[number] | undefined>(
    (a, b) => (a === undefined || b.plateau.voltage - b.limit.value < a.plateau.voltage - a.limit.value ? b : a),
    undefined,
  );
  const signs = [...flat(usable, named), ...standing(usable, named), ...weak(cranks)];
  const top = most(readings.map(({ reached }) => reached.value));
  // What is held is the least or most of a noisy stretch: half of the time the voltage stood beyond the median.
  const highest = most(readings.map(({ reached, usual }) => Math.max(reached.value, usual)));
  const seen = readings.reduce((total, each) => total + each.seen, 0);
  const unjudged = cranks.length > 0 ? undefined : notCranked(readings);
  const base = {
    measures: {
      above1500: { value: seen, unit: 's' },
      ...only('highest', highest),
      ...only('usual', most(readings.map(({ usual }) => usual))),
      ...only('lowest', least(readings.map(({ lowest, usual }) => Math.min(lowest.value, usual)))),
      lowTime: { value: readings.reduce((total, each) => total + each.low, 0), unit: 's' },
      ...only('crank', weakest?.plateau.voltage ?? Number.NaN),
      ...only('crankLimit', weakest?.limit.value ?? Number.NaN),
      ...(weakest === undefined ? {} : { batteryTemperature: { value: weakest.plateau.temperature, unit: 'degC' } }),
    },
    limits: Object.values(named).filter(({ name }) => cranks.length > 0 || !name.startsWith('crank')),
    notes: notes(readings, unjudged),
    events: signs.map(({ event }) => event),
  };
  const severity = worst(signs.map(({ level }) => level));
  const channels = readings.map(({ channel }) => channel);
  if (severity !== undefined) {
    const leading = signs.filter(({ level }) => level === severity);
    const [led] = leading;
    const kinds = new Set(signs.map(({ kind }) => kind));
    return {
      ...base,
      outcome: 'finding',
      severity,
      confidence: confidenceOf({
        margin: led!.margin,
        uncertainty: led!.u,
        samples: led!.samples,
        channels,
        doubts: led!.kind === 'weak' ? [0.85] : [],
      }),
      summary: `${sentence(signs.map(({ text }) => text))}.`,
      causes: [
        ...(kinds.has('flat') ? FLAT_CAUSES : []),
        ...(kinds.has('high') ? HIGH_CAUSES : []),
        ...(kinds.has('weak') ? WEAK_CAUSES : []),
      ],
      advice: [
        ...(severity === 'stop' ? ['Do not drive on far: lamps, steering assistance and control units may fail.'] : []),
        ...(kinds.has('flat') ? FLAT_ADVICE : []),
        ...(kinds.has('high') ? HIGH_ADVICE : []),
        ...(kinds.has('weak') ? WEAK_ADVICE : []),
      ],
    };
  }
  return calm(usable, weakest, unjudged, seen, top, named, base);
}

function calm(
  drives: Drives,
  weakest: JudgedCrank | undefined,
  unjudged: string | undefined,
  seen: number,
  top: number,
  named: ReturnType<Context['limits']>,
  base: Pick<Judgement, 'measures'> & { readonly notes: readonly string[] },
): Judgement {
  const open = (summary: string, channels: readonly string[], conditions: readonly string[]): Judgement => ({
    ...base,
    outcome: 'unproven',
    summary,
    missing: { channels, conditions },
  });
  if (drives.length === 0)
    return open('The voltage reads the same all the time: it is not believed.', ['systemVoltage'], []);
  const cranked =
    weakest === undefined
      ? ''
      : `; ${figure(weakest.plateau.voltage, 2)} V while cranking (a sound battery holds ${figure(weakest.limit.value, 2)} V at ${figure(weakest.plateau.temperature, 0)} °C)`;
  if (seen < ENOUGH)
    return open(
      `The engine ran above 1500 rpm for ${figure(seen, 0)} s only${cranked}.`,
      [],
      [RUN, ...(weakest === undefined ? [START] : [])],
    );
  const charges = named.charging!;
  const [lead] = [...drives].sort((a, b) => b.observation.reached.value - a.observation.reached.value);
  const { u, hz, reached } = lead!.observation;
  if (!(reached.value > charges.value - 2 * u))
    return open(
      `It ran on ${figure(reached.value, 2)} V at most: neither charging nor failing is shown${cranked}.`,
      [],
      ['some minutes above 1500 rpm with lamps, blower and heated screen on'],
    );
  const high = limitOf(named, 'watch', 'high');
  const near =
    weakest !== undefined && weakest.plateau.voltage < weakest.limit.value ? ', near the limit of the battery' : '';
  return {
    ...base,
    // Said in the summary.
    notes: base.notes.filter((note) => unjudged === undefined || !note.includes(unjudged)),
    outcome: 'clear',
    confidence: confidenceOf({
      margin: Math.min(reached.value - charges.value, high.value - reached.value) + u,
      uncertainty: u,
      samples: Math.max(1, Math.round(seen * (hz > 0 ? hz : 1))),
      channels: drives.map(({ observation }) => observation.channel),
    }),
    summary: `It charges: up to ${figure(top, 2)} V (from ${figure(charges.value)} V)${cranked}${near}${unjudged === undefined ? '' : `; whether the battery carries a start was not judged: ${unjudged}`}.`,
  };
}

function notes(readings: readonly ChargingReading[], unjudged: string | undefined): string[] {
  return [
    ...(readings.some((each) => each.unasked > 0)
      ? ['Stretches in which the control unit wanted no charge were left out.']
      : []),
    ...(unjudged === undefined ? [] : [`Cranking was not judged: ${unjudged}.`]),
  ];
}

/** Why no start told anything of the battery. */
function notCranked(readings: readonly ChargingReading[]): string {
  const told = readings.map(({ crank }) => {
    if (!isRefusal(crank))
      return crank.plateaus.length > 0
        ? 'the battery was colder than the load-test table reaches'
        : 'fewer than three samples while the starter turned';
    const { conditions } = crank.missing;
    return `${crank.reason}${conditions.length > 0 ? ` (needs ${listed(conditions)})` : ''}`;
  });
  return [...new Set(told)].join('; ');
}

function only(name: string, value: number): Record<string, { readonly value: number; readonly unit: 'V' }> {
  return Number.isNaN(value) ? {} : { [name]: { value, unit: 'V' } };
}

function most(values: readonly number[]): number {
  return values.reduce((a, b) => (b > a || Number.isNaN(a) ? b : a), Number.NaN);
}

function least(values: readonly number[]): number {
  return values.reduce((a, b) => (b < a || Number.isNaN(a) ? b : a), Number.NaN);
}

function sentence(parts: readonly string[]): string {
  const text = parts.join('; ');
  return text.charAt(0).toUpperCase() + text.slice(1);
}
