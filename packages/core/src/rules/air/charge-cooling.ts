import { AMBIENT } from '../../derived/ambient.js';
import {
  BEFORE_COMPRESSOR,
  CHARGE_COOLING,
  type ChargeCooling,
  type CooledPull,
  EFFICIENCY,
  LONG,
} from '../../derived/charge-cooling.js';
import { uncertaintyOf } from '../../derived/exceeds.js';
import { confidenceOf } from '../confidence.js';
import { levelOf, limitOf, worst } from '../ladder.js';
import { type Context, defineRule, type Judgement, type LimitDefinition, type Observed } from '../rule.js';
import { clockTime, counted, figure } from '../wording.js';

const CP = 'common practice, no source';
/** Pulls longer than this (s) may rise further on a healthy cooler. */
const SHORT = 10;
const CONDITION = `a pull at full pedal of >= ${LONG} s under boost, in fourth gear or higher or up a hill, where lawful and safe`;

const limits: readonly LimitDefinition[] = [
  {
    name: 'effectiveness-watch',
    value: 0.65,
    unit: '1',
    comparison: '<',
    source: CP,
    about: `effectiveness of the charge cooler at the end of a pull of ${LONG} s, compressor efficiency ${EFFICIENCY.value} ± ${EFFICIENCY.half}`,
  },
  { name: 'effectiveness-repair', value: 0.5, unit: '1', comparison: '<', source: CP, about: 'the same' },
  {
    name: 'rise-watch',
    value: 25,
    unit: 'K',
    comparison: '>',
    source: CP,
    about: `rise of the charge temperature in a pull of up to ${SHORT} s`,
  },
];

export const chargeCooling = defineRule({
  id: 'air.charge-cooling',
  system: 'air',
  question: 'Do the charge coolers still cool?',
  why: 'Hot charge air costs power, brings knock and makes the control unit take boost and ignition back.',
  weight: 1,
  needs: {
    channels: [],
    optional: [
      'chargeAirTemperature',
      'intakeAirTemperature',
      'compressorInletTemperature',
      'compressorOutletPressure',
      'boostPressure',
      'manifoldPressure',
      'barometricPressure',
      'ambientTemperature',
      'pedalPosition',
      'vehicleSpeed',
      'engineSpeed',
    ],
    derived: [CHARGE_COOLING, AMBIENT],
    conditions: [CONDITION],
  },
  limits,
  method:
    'Temperature behind the compressor from its pressure ratio and an assumed efficiency; effectiveness = how much of what the compressor heated over ambient air the cooler took out again, at the end of each long pull, median of the pulls, with the interval that the unknown efficiency, the pressures and the temperatures leave. Where it cannot be told, or is low, how far the charge temperature rose within each pull counts as well.',
  decoys: [
    `a sensor before the compressor: one that rises by less than ${BEFORE_COMPRESSOR.rise} K at a pressure ratio beyond ${BEFORE_COMPRESSOR.ratio} is not used; one of unknown place only where it rises with boost every time`,
    'high boost: the charge of a good cooler rises by more than the limit of the rise; not judged by it where the effectiveness is good',
    'heat soaked up while standing: a charge temperature that falls during a pull is not judged, and a rise counts from the start of the pull',
    'pressure flat at 255 kPa: such a pull is left out',
    'water-cooled charge coolers: judged against ambient air as well; the text says so',
  ],
  cautions: ['Full-load runs only on a closed course or a dynamometer, and within the law; the passenger watches.'],
  proves:
    'Two or three pulls of six to ten seconds in fourth gear or higher, where lawful and safe, after some minutes of driving, with charge temperature behind the cooler, boost or manifold pressure, barometric pressure and ambient temperature at 1 Hz or faster.',
  observe: (view) => view.derive(CHARGE_COOLING),
  judge,
});

function judge(observed: readonly Observed<ChargeCooling>[], context: Context): Judgement {
  const named = context.limits();
  const all = observed.flatMap(({ input, observation }) =>
    observation.pulls.map((pull) => ({ input, pull, observation })),
  );
  const long = all.filter(({ pull }) => !Number.isNaN(pull.effectiveness));
  const sorted = [...long].sort((a, b) => a.pull.effectiveness - b.pull.effectiveness);
  const middle = sorted[sorted.length >> 1];
  const short = all.filter(({ pull }) => pull.to - pull.from <= SHORT);
  const hottest = short.reduce<(typeof short)[number] | undefined>(
    (a, b) => (a === undefined || b.pull.rise > a.pull.rise ? b : a),
    undefined,
  );
  const riseU = (pull: (typeof short)[number]): number =>
    Math.SQRT2 * uncertaintyOf(pull.observation.channel, { noise: 0.5 });
  const byValue =
    middle === undefined ? undefined : levelOf(middle.pull.effectiveness, middle.pull.u, named, 'effectiveness');
  // At high boost a good cooler rises as well: a measured effectiveness says more than a rise.
  const cools = middle !== undefined && middle.pull.effectiveness >= limitOf(named, 'watch', 'effectiveness').value;
  const byRise = hottest === undefined || cools ? undefined : levelOf(hottest.pull.rise, riseU(hottest), named, 'rise');
  const severity = worst([byValue, byRise]);
  const channels = observed.flatMap(({ observation }) => [observation.channel, observation.pressure]);
  const inferred = observed.some(({ observation }) => observation.inferred);
  const assumed = observed.some(({ observation }) => observation.ambientSource.startsWith('none'));
  const base = {
    measures: {
      pulls: { value: all.length },
      ...(middle === undefined
        ? {}
        : {
            effectiveness: { value: middle.pull.effectiveness },
            effectivenessLow: { value: Math.max(0, middle.pull.effectiveness - 1.96 * middle.pull.u) },
            effectivenessHigh: { value: Math.min(1, middle.pull.effectiveness + 1.96 * middle.pull.u) },
            charge: { value: middle.pull.charge, unit: 'degC' },
            compressed: { value: middle.pull.compressed, unit: 'degC' },
            pressureRatio: { value: middle.pull.ratio },
          }),
      ...(hottest === undefined ? {} : { rise: { value: hottest.pull.rise, unit: 'K' } }),
    },
    limits: Object.values(named),
    notes: [
      `Compressor efficiency is taken as ${EFFICIENCY.value} ± ${EFFICIENCY.half}; a water-cooled cooler is judged against ambient air as well.`,
      ...(inferred
        ? ['The place of the temperature is not told; it rises with boost, so it was taken as behind the cooler.']
        : []),
      ...(assumed ? ['Ambient temperature is not recorded: a guess was taken, with its doubt.'] : []),
    ],
  };
  const doubts = [...(inferred ? [0.85] : []), ...(assumed ? [0.8] : [])];
  const told = (pull: CooledPull, u: number): string =>
    `compressed to ${figure(pull.ratio)} times the inlet pressure the air leaves the compressor at about ${figure(pull.compressed, 0)} °C and the cooler at ${figure(pull.charge, 0)} °C: effectiveness ${figure(pull.effectiveness, 2)} (${figure(Math.max(0, pull.effectiveness - 1.96 * u), 2)} to ${figure(Math.min(1, pull.effectiveness + 1.96 * u), 2)})`;
  if (severity !== undefined) {
    const byLead = byValue === severity;
    const limit = limitOf(named, severity, byLead ? 'effectiveness' : 'rise');
    const parts = [
      ...(middle !== undefined
        ? [
            `${told(middle.pull, middle.pull.u)} in ${counted(long.length, 'pull')}, first at ${clockTime(long[0]!.pull.to)} (limit ${limitOf(named, byValue ?? 'watch', 'effectiveness').value}${byValue === undefined ? ', near the limit' : ''})`,
          ]
        : []),
      ...(byRise !== undefined && hottest !== undefined
        ? [
            `charge air rose by ${figure(hottest.pull.rise, 0)} K within ${figure(hottest.pull.to - hottest.pull.from)} s from ${clockTime(hottest.pull.from)} (limit ${limitOf(named, byRise, 'rise').value} K)`,
          ]
        : []),
    ].join('; ');
    return {
      ...base,
      outcome: 'finding',
      severity,
      confidence: confidenceOf({
        margin: byLead ? limit.value - middle!.pull.effectiveness : hottest!.pull.rise - limit.value,
        uncertainty: byLead ? middle!.pull.u : riseU(hottest!),
        samples: 3 * Math.max(1, long.length),
        channels,
        doubts,
      }),
      summary: `${parts.charAt(0).toUpperCase()}${parts.slice(1)}.`,
      events: [
        ...(byValue === undefined
          ? []
          : long.map(({ input, pull }) => ({
              input,
              from: pull.from,
              to: pull.to,
              severity: byValue,
              peak: { value: pull.effectiveness },
              charge: { value: pull.charge, unit: 'degC' },
            }))),
        ...(byRise === undefined || byValue !== undefined || hottest === undefined
          ? []
          : [
              {
                input: hottest.input,
                from: hottest.pull.from,
                to: hottest.pull.to,
                severity: byRise,
                peak: { value: hottest.pull.rise, unit: 'K' },
              },
            ]),
      ],
      causes: [
        'air side of the cooler blocked: leaves, mud, a crushed core, missing ducting',
        'cooler too small for the boost that is made now',
        'oil film inside the cooler',
        'water-cooled charge air: circuit pump, air in the circuit, low level',
        'compressor far off its best efficiency, so that the air is hotter than computed',
      ],
      advice: [
        'Look at the cooler and its ducting from the front, with a lamp; clean it from behind.',
        'Water-cooled: check level and that the circuit pump runs; bleed the circuit.',
        'Drain oil from the charge pipes and find where it comes from.',
        'Measure temperatures before and after the cooler in one pull: that tells cooler from compressor.',
      ],
    };
  }
  if (middle === undefined) {
    return {
      ...base,
      outcome: 'unproven',
      summary: `No pull of ${LONG} s under boost shows what the cooler does${all.length > 0 ? ` (${counted(all.length, 'shorter pull')})` : ''}.`,
      missing: { channels: [], conditions: [CONDITION] },
    };
  }
  const limit = limitOf(named, 'watch', 'effectiveness');
  return {
    ...base,
    outcome: 'clear',
    confidence: confidenceOf({
      margin: middle.pull.effectiveness - limit.value,
      uncertainty: middle.pull.u,
      samples: 3 * long.length,
      channels,
      doubts,
    }),
    summary: `In ${counted(long.length, 'pull')} ${told(middle.pull, middle.pull.u)}; watch below ${limit.value}${middle.pull.effectiveness < limit.value ? ', near the limit' : ''}.`,
  };
}
