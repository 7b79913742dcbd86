import { BMEP } from '../../derived/bmep.js';
import { KNOCK_SIGNAL } from '../../derived/knock-signal.js';
import { MISFIRES } from '../../derived/misfires.js';
import { SAMPLES } from '../../derived/samples.js';
import { confidenceOf } from '../confidence.js';
import {
  type Context,
  defineRule,
  type Judgement,
  type LimitDefinition,
  type Observed,
  type Severity,
} from '../rule.js';
import { clockTime, counted, figure, listed } from '../wording.js';
import { type PreIgnitionReading, readPreIgnition, SLOWEST } from './pre-ignition-reading.js';

const CP = 'common practice, no source';
/** Seconds at low speed and high pressure that it takes to clear an engine. */
const ENOUGH = 3;
const CONDITION = `full load below 3000 rpm at >= 16 bar for >= ${ENOUGH} s, where lawful and safe`;

const limits: readonly LimitDefinition[] = [
  {
    name: 'jump',
    value: 6,
    unit: 'deg',
    comparison: '>=',
    source: CP,
    about: 'retard of one cylinder between two fresh samples, below 3000 rpm',
  },
  {
    name: 'others',
    value: 2,
    unit: 'deg',
    comparison: '<',
    source: CP,
    about: 'what the other cylinders may rise with it',
  },
  {
    name: 'pressure',
    value: 16,
    unit: 'bar',
    comparison: '>=',
    source: CP,
    about: 'mean effective pressure from which it counts',
  },
  { name: 'watch', value: 1, unit: '1', comparison: '>=', source: CP, about: 'events' },
  { name: 'repair', value: 2, unit: '1', comparison: '>=', source: CP, about: 'events' },
];

export const preIgnition = defineRule({
  id: 'engine.pre-ignition',
  system: 'engine',
  question: 'Does the charge light by itself at low speed?',
  why: 'A single pre-ignition under boost at low speed can break a piston ring land or bend a rod; unlike knock no ignition angle prevents the next.',
  weight: 3,
  needs: {
    channels: ['engineSpeed'],
    optional: ['knockRetard', 'preIgnitionCount', 'misfireCount', 'engineTorque', 'airMassFlow', 'pedalPosition'],
    derived: [SAMPLES, KNOCK_SIGNAL, BMEP, MISFIRES],
    conditions: [CONDITION],
  },
  limits,
  method:
    'Steps of the control unit’s own counter; else one cylinder whose knock retard jumps between two fresh samples below 3000 rpm under high mean effective pressure, while the others do not follow within 0.3 s. A misfire within a second of an event makes it a reason to stop.',
  decoys: [
    'tip-in knock on several cylinders: the others follow, so it is knock',
    'retard of shifts and traction control: moves all cylinders',
    'slow logs in which a rise of knock looks like a jump: not judged below 5 Hz',
    'a counter that was above 0 before the drive: told, not judged as an event',
  ],
  cautions: ['After one event keep the pedal off below 3000 rpm until its cause is found.'],
  proves:
    'Two full-load stretches in a high gear from 1500 to 3000 rpm, where lawful and safe, with knock retard of each cylinder at 10 Hz, engine speed, torque or air mass, and displacement in the profile.',
  observe(view, context) {
    const { jump, others, pressure } = context.limits();
    return readPreIgnition(view, { jump: jump!.value, others: others!.value, pressure: pressure!.value });
  },
  judge,
});

function judge(observed: readonly Observed<PreIgnitionReading>[], context: Context): Judgement {
  const named = context.limits();
  const events = observed.flatMap(({ input, observation }) => observation.events.map((each) => ({ input, ...each })));
  const seconds = observed.reduce((total, { observation }) => total + observation.seconds, 0);
  const before = Math.max(...observed.map(({ observation }) => observation.before));
  const channels = observed.flatMap(({ observation }) => observation.channels);
  const counter = observed.some(({ observation }) => observation.counter);
  const cylinders = [...new Set(events.flatMap(({ cylinder }) => cylinder ?? []))].sort((a, b) => a - b);
  const base = {
    measures: {
      events: { value: events.length },
      ...(cylinders.length === 0 ? {} : { cylinders: { value: cylinders } }),
      ripe: { value: seconds, unit: 's' },
      ...(before > 0 ? { counterBefore: { value: before } } : {}),
    },
    limits: Object.values(named),
    notes:
      before > 0 ? [`The counter stood at ${figure(before, 0)} when the recording began: it has happened before.`] : [],
  };
  const severity: Severity | undefined = events.some(({ misfire }) => misfire)
    ? 'stop'
    : events.length >= named.repair!.value
      ? 'repair'
      : events.length >= named.watch!.value
        ? 'watch'
        : undefined;
  if (severity !== undefined) {
    const [first] = events;
    const sure = events.length + (counter ? 2 : 0);
    const told = Number.isNaN(first!.jump)
      ? 'by the counter of the control unit'
      : `its ignition jumped ${figure(first!.jump)}° late, the others did not`;
    return {
      ...base,
      outcome: 'finding',
      severity,
      confidence: confidenceOf({ margin: 1, uncertainty: 0, samples: sure, channels }),
      summary: `${counted(events.length, 'pre-ignition')} at low speed${cylinders.length === 0 ? '' : ` on ${cylinders.length === 1 ? 'cylinder' : 'cylinders'} ${listed(cylinders.map(String))}`}, first at ${clockTime(first!.at)}${Number.isNaN(first!.rpm) ? '' : ` and ${figure(first!.rpm, 0)} rpm`}: ${told}${severity === 'stop' ? '; with a misfire beside it' : ''}.`,
      events: events.map(({ input, at, cylinder, jump, rpm, misfire }) => ({
        input,
        from: at,
        to: at,
        severity,
        ...(Number.isNaN(jump) ? {} : { peak: { value: jump, unit: 'deg' } }),
        ...(cylinder === undefined ? {} : { cylinder }),
        ...(Number.isNaN(rpm) ? {} : { engineSpeed: { value: rpm, unit: 'rpm' } }),
        ...(misfire ? { misfire: 'yes' } : {}),
      })),
      causes: [
        'too much torque at too little speed: see engine.torque-load',
        'oil in the intake: crankcase ventilation, turbocharger seals; oil of a kind that promotes it',
        'deposits, glowing plugs of the wrong heat range',
        'poor fuel, or fuel in the oil',
      ],
      advice: [
        'Use lower gears: no full load below 3000 rpm.',
        'Change the oil to a grade made against low-speed pre-ignition, check level and dilution.',
        'Look at the plugs of the cylinders named, with a borescope at their pistons.',
        'Have the torque below 3000 rpm taken back; leak-down test of the cylinders named.',
        ...(severity === 'stop' ? ['Do not drive it hard any more: look into the cylinders first.'] : []),
      ],
    };
  }
  if (seconds < ENOUGH) {
    return {
      ...base,
      outcome: 'unproven',
      summary: `Only ${figure(seconds)} s at low speed and high pressure: pre-ignition had no chance to show.`,
      missing: { channels: [], conditions: [CONDITION] },
    };
  }
  return {
    ...base,
    outcome: 'clear',
    confidence: confidenceOf({
      margin: 1,
      uncertainty: 0.5,
      samples: Math.max(1, Math.round(seconds * SLOWEST)),
      channels,
    }),
    summary: `No pre-ignition over ${figure(seconds)} s below 3000 rpm at ${figure(named.pressure!.value, 0)} bar and more (${counter ? 'counter of the control unit' : 'retard of each cylinder'}).`,
  };
}
