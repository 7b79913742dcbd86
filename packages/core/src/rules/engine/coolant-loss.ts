import { exceeds } from '../../derived/exceeds.js';
import { LOAD_FRACTION } from '../../derived/load-fraction.js';
import { PEDAL_RELATIVE } from '../../derived/pedal-relative.js';
import { SAMPLES } from '../../derived/samples.js';
import { SPEED } from '../../derived/speed.js';
import { confidenceOf } from '../confidence.js';
import {
  type Context,
  defineRule,
  type Judgement,
  type LimitDefinition,
  type Observed,
  type Severity,
} from '../rule.js';
import { clockTime, counted, figure, signed } from '../wording.js';
import { type CoolantReading, readCoolant, SLOWEST } from './coolant-loss-reading.js';

const CP = 'common practice, no source';
/** Seconds of regulated coolant that it takes to say it is quiet. */
const ENOUGH = 300;
const CONDITION = `warm driving >= ${ENOUGH} s after the thermostat has opened, some of it at steady speed`;

const limits: readonly LimitDefinition[] = [
  {
    name: 'swing',
    value: 4,
    unit: 'K',
    comparison: '>',
    source: CP,
    about: 'change of the coolant temperature within 10 s at steady load',
  },
  { name: 'watch', value: 3, unit: '1', comparison: '>=', source: CP, about: 'such swings in all' },
  {
    name: 'pressed',
    value: 15,
    unit: 'kPa',
    comparison: '>',
    source: CP,
    about: 'coolant pressure under load over that without, at equal temperature',
  },
  {
    name: 'hot',
    value: 117,
    unit: 'degC',
    comparison: '>',
    source: CP,
    about: 'coolant temperature that makes it a reason to stop',
  },
];

export const coolantLoss = defineRule({
  id: 'engine.coolant-loss',
  system: 'engine',
  question: 'Is the coolant low, full of air, or is combustion gas in it?',
  why: 'A sensor that stands in steam jumps up and down while the engine runs steadily: the water is missing, or gas from a leaking head gasket drives it out.',
  weight: 2,
  slow: true,
  needs: {
    channels: ['coolantTemperature'],
    optional: ['coolantPressure', 'coolantLevelWarning', 'engineLoad', 'engineTorque', 'pedalPosition', 'vehicleSpeed'],
    derived: [SAMPLES, SPEED, PEDAL_RELATIVE, LOAD_FRACTION],
    conditions: [CONDITION],
  },
  limits,
  method:
    'Once the thermostat has opened, turns of the coolant temperature that lie further apart than the limit and follow within ten seconds are counted where they come back within twenty seconds (or come from there), and where the pedal by its mean over ten seconds, else load, and road speed have stayed about the same for twenty seconds. Low level, or pressure that rises with the load at equal temperature, makes it a repair; a coolant that was also too hot a reason to stop.',
  decoys: [
    'the first opening of the thermostat: the first two minutes after it do not count',
    'cold water out of the radiator, or a thermostat that opens further: falls and stays, or comes back slowly; a bubble passes',
    'a change of load or speed: the swing has to come at steady load',
    'a wiring fault: one step that makes most of the swing is not water',
    'a mapped thermostat: moves its level in tens of seconds, not within ten',
  ],
  cautions: ['Never open a hot cooling system: scalding water and steam. Let it cool down first.'],
  proves:
    'Fifteen minutes of warm driving, some of it at steady speed, with coolant temperature at 1 Hz; coolant pressure and level where the car has sensors for them.',
  observe: (view, context) => readCoolant(view, view.channel('coolantTemperature'), context.limits().swing!.value),
  judge,
});

function judge(observed: readonly Observed<CoolantReading>[], context: Context): Judgement {
  const { swing, watch, pressed, hot } = context.limits();
  const swings = observed.flatMap(({ input, observation }) => observation.swings.map((each) => ({ input, ...each })));
  const seconds = observed.reduce(
    (total, { observation }) => total + (Number.isFinite(observation.steady) ? observation.steady : 0),
    0,
  );
  const told = observed.filter(({ observation }) => !Number.isNaN(observation.pressed));
  const most = told.reduce<(typeof told)[number] | undefined>(
    (a, b) => (a === undefined || b.observation.pressed > a.observation.pressed ? b : a),
    undefined,
  )?.observation;
  const top = observed.reduce((a, b) => (b.observation.peak > a.observation.peak ? b : a)).observation;
  const many = swings.length >= watch!.value;
  const low = observed.some(({ observation }) => observation.low);
  const gas =
    most !== undefined && exceeds(most.pressed, most.pressedU, pressed!.value, pressed!.comparison) === 'beyond';
  const tooHot = exceeds(top.peak, top.u, hot!.value, hot!.comparison) === 'beyond';
  const severity: Severity | undefined = !many ? undefined : tooHot ? 'stop' : low || gas ? 'repair' : 'watch';
  const largest = swings.reduce((a, b) => (Math.abs(b.size) > Math.abs(a) ? b.size : a), 0);
  const base = {
    measures: {
      swings: { value: swings.length },
      ...(swings.length === 0 ? {} : { largest: { value: largest, unit: 'K' } }),
      ...(most === undefined ? {} : { pressed: { value: most.pressed, unit: 'kPa' } }),
      peak: { value: top.peak, unit: 'degC' },
      regulated: { value: seconds, unit: 's' },
    },
    limits: [swing!, watch!, ...(most === undefined ? [] : [pressed!]), ...(tooHot ? [hot!] : [])],
    notes:
      !many && (low || gas)
        ? [low ? 'The coolant level was told to be low: look at it.' : 'The coolant pressure rises with the load.']
        : [],
  };
  const channels = observed.flatMap(({ observation }) => observation.channels);
  if (severity !== undefined) {
    const signs = [
      ...(low ? ['the level is told to be low'] : []),
      ...(gas ? [`pressure rises by ${figure(most!.pressed, 0)} kPa under load`] : []),
      ...(tooHot ? [`it reached ${figure(top.peak, 0)} °C`] : []),
    ];
    return {
      ...base,
      outcome: 'finding',
      severity,
      confidence: confidenceOf({
        margin: Math.abs(largest) - swing!.value,
        uncertainty: top.u,
        samples: swings.length,
        channels,
      }),
      summary: `The coolant temperature swung by more than ${figure(swing!.value)} K within ten seconds at steady load ${counted(swings.length, 'time')}, first at ${clockTime(swings[0]!.from)}, at most by ${signed(largest)} K${signs.length === 0 ? '' : `; ${signs.join(', ')}`}.`,
      events: swings.map(({ input, from, to, size }) => ({
        input,
        from,
        to,
        severity,
        peak: { value: size, unit: 'K' },
      })),
      causes: [
        ...(gas ? ['combustion gas in the coolant: head gasket, cracked head'] : []),
        'coolant low: leak at hoses, pump, radiator, expansion tank',
        'air in the system after work on it',
        ...(gas ? [] : ['combustion gas in the coolant: head gasket']),
        'water pump that slips or whose wheel has come loose',
      ],
      advice: [
        'Cold engine: check the level, look for traces of coolant under the car, at the pump and in the oil cap.',
        'Bleed the system as its maker says, and record the drive again.',
        'Pressure-test the system cold; test for combustion gas above the expansion tank.',
        ...(severity === 'stop' ? ['Do not drive on: an engine that boils its water away is lost in minutes.'] : []),
      ],
    };
  }
  if (seconds < ENOUGH) {
    return {
      ...base,
      outcome: 'unproven',
      summary: `The coolant was regulated for ${figure(seconds, 0)} s only.`,
      missing: { channels: [], conditions: [CONDITION] },
    };
  }
  return {
    ...base,
    outcome: 'clear',
    confidence: confidenceOf({
      margin: watch!.value - swings.length,
      uncertainty: 1,
      samples: Math.round(seconds * SLOWEST),
      channels,
    }),
    summary: `${swings.length === 0 ? 'No swing' : counted(swings.length, 'swing')} of the coolant beyond ${figure(swing!.value)} K within ten seconds at steady load, over ${figure(seconds / 60, 0)} min (limit ${figure(watch!.value, 0)}).`,
  };
}
