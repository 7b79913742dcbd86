import { AMBIENT } from '../../derived/ambient.js';
import { BOOST_AUTHORITY } from '../../derived/boost-authority.js';
import { BOOST_DYNAMICS } from '../../derived/boost-dynamics.js';
import { CLOSED_LOOP } from '../../derived/closed-loop.js';
import { AIR_AGREEMENT } from '../../derived/computed-air.js';
import { FULL_LOAD } from '../../derived/full-load.js';
import { MEASURED_AIR } from '../../derived/measured-air.js';
import { SAMPLES } from '../../derived/samples.js';
import { CRUISE } from '../../derived/segments.js';
import { confidenceOf } from '../confidence.js';
import { type Context, defineRule, type Judgement, type LimitDefinition, type Observed } from '../rule.js';
import { clockTime, counted, figure, listed } from '../wording.js';
import { type LeakObservation, type LeakPull, RICH_U, readLeak, type Sign } from './charge-leak-reading.js';

const CP = 'common practice, no source';
/** Signs that have to agree, in so many pulls. */
const AGREE = 2;
const PULLS_NEEDED = 2;
/** Standard uncertainty below which metered over computed air has the last word. */
const CLEARLY = 0.06;
const CONDITION = `${PULLS_NEEDED} pulls at full pedal of >= 4 s from 2000 rpm, where lawful and safe, and some minutes of steady driving off boost at several speeds`;

const limits: readonly LimitDefinition[] = [
  {
    name: 'divergence',
    value: 0.04,
    unit: '1',
    comparison: '>',
    source: CP,
    about: 'metered air over the air computed from pressure and the filling learned off boost, less 1, under boost',
  },
  {
    name: 'rich',
    value: 0.04,
    unit: '1',
    comparison: '>',
    source: CP,
    about: 'share by which the mixture needs less fuel under boost than in cruise (lambda / target x trims)',
  },
  {
    name: 'missed',
    value: 10,
    unit: 'kPa',
    comparison: '>',
    source: CP,
    about: 'settled boost under its target for 1.5 s, throttle open',
  },
  {
    name: 'authority',
    value: 95,
    unit: '%',
    comparison: '>=',
    source: CP,
    about: 'share of the boost actuator’s authority in use for 1 s, after boost had its time to build',
  },
  {
    name: 'speed',
    value: 0.05,
    unit: '1',
    comparison: '>',
    source: CP,
    about: 'speed of one turbocharger over that of the other at full load, less 1',
  },
];

export const chargeLeak = defineRule({
  id: 'air.charge-leak',
  system: 'air',
  question: 'Does charge air escape between compressor and cylinders?',
  why: 'A split hose or a loose clamp costs boost, drives the turbocharger too fast and, with an air meter, floods the engine with fuel for air that is gone.',
  weight: 2,
  needs: {
    channels: [],
    optional: [
      'airMassFlow',
      'manifoldPressure',
      'boostPressure',
      'boostPressureTarget',
      'manifoldPressureTarget',
      'barometricPressure',
      'chargeAirTemperature',
      'intakeAirTemperature',
      'engineSpeed',
      'pedalPosition',
      'lambda',
      'lambdaTarget',
      'fuelTrimShort',
      'fuelTrimLong',
      'wastegateDuty',
      'turboSpeed',
      'throttlePosition',
      'vehicleSpeed',
      'gear',
      'wheelSpeed',
    ],
    derived: [
      AMBIENT,
      SAMPLES,
      FULL_LOAD,
      MEASURED_AIR,
      AIR_AGREEMENT,
      BOOST_DYNAMICS,
      BOOST_AUTHORITY,
      CLOSED_LOOP,
      CRUISE,
    ],
    conditions: [CONDITION],
  },
  limits,
  method:
    'Signs per pull, from settled full pedal above idle overlap. With an air meter: metered air rises over the air computed from manifold pressure and the filling that this engine showed off boost; the mixture is richer than in cruise; boost misses its target; the boost actuator stands at its end. Without one only the actuator and the speeds of two turbochargers can tell. Two signs that agree in two pulls are a finding; with a meter one of them has to be the air or the mixture.',
  decoys: [
    'unknown filling: learned from the car’s own off-boost driving, with its uncertainty',
    'a dump valve that blows off to the outside: it does so when the pedal is let go; only full pedal counts, away from shifts',
    'fresh air that passes the cylinders at low speed: nothing below 2500 rpm counts',
    'an air meter that reads high: its excess grows with the flow, that of a leak shrinks with it',
    'a charge temperature measured before the compressor: the air computed under boost is doubtful, and its doubt counts',
    'a worn turbocharger or wastegate: actuator and boost alone are no leak where a meter is fitted',
  ],
  cautions: [
    'Full-load runs only on a closed course or a dynamometer, and within the law; the passenger watches.',
    'Charge pipes and turbocharger are hot: let the engine cool before touching them; never use open flame or spray near a hot engine.',
  ],
  proves:
    'Some minutes of steady driving at several speeds, then two or three pulls at full pedal from 2000 rpm, where lawful and safe, with air mass flow, manifold pressure, charge temperature, boost and its target, lambda with its target, trims and boost actuator duty at 5 Hz or faster.',
  observe: (view, context) => readLeak(view, context.limits()),
  judge,
});

const NAMES: Readonly<Record<Sign, string>> = {
  divergence: 'more air is metered than the cylinders take',
  rich: 'the mixture is rich under boost',
  missed: 'boost misses its target',
  authority: 'the boost actuator stands at its end',
  turboSpeed: 'one turbocharger turns faster than the other',
};

type Pull = LeakPull & { readonly input: number; readonly observation: LeakObservation };

/** Two signs that agree; a meter that reads high explains air and mixture together, so then only boost can agree. */
function leaks({ signs, observation, excess, excessU }: Pull): boolean {
  const counting = observation.meterScale ? signs.filter((sign) => sign !== 'divergence' && sign !== 'rich') : signs;
  if (observation.metering === 'meter') {
    // Where the air itself was told, nothing else speaks for it.
    if (!Number.isNaN(excess) && excessU < CLEARLY && !counting.includes('divergence')) return false;
    return counting.length >= AGREE && counting.some((sign) => sign === 'divergence' || sign === 'rich');
  }
  // Boost missed and actuator at its end are one and the same sign without a meter: the turbocharger does what it can.
  return counting.includes('turboSpeed') && counting.includes('authority');
}

function judge(observed: readonly Observed<LeakObservation>[], context: Context): Judgement {
  const named = context.limits();
  const all = observed.flatMap(({ input, observation }): Pull[] =>
    observation.pulls.map((pull) => ({ input, observation, ...pull })),
  );
  const found = all.filter(leaks);
  const told = [...new Set(observed.flatMap(({ observation }) => observation.told))];
  const metered = observed.some(({ observation }) => observation.metering === 'meter');
  const scale = observed.some(({ observation }) => observation.meterScale);
  const blind = observed.some(({ observation }) => observation.blind);
  const excess = middle(all.map((each) => each.excess));
  const rich = middle(all.map((each) => each.rich));
  const base = {
    measures: {
      pulls: { value: all.length },
      ...(Number.isNaN(excess)
        ? {}
        : { excess: { value: excess }, excessU: { value: middle(all.map((p) => p.excessU)) } }),
      ...(Number.isNaN(rich) ? {} : { rich: { value: rich } }),
      agreeing: { value: found.length },
    },
    limits: Object.values(named),
    notes: [
      ...(metered
        ? ['Where the logged air flow is computed from pressure instead of metered, it cannot show a leak.']
        : ['No air meter is recorded: only the boost actuator and the speed of the turbochargers can show a leak.']),
      ...(scale
        ? ['Metered over computed air grows with the flow: the meter reads high there, which is no leak.']
        : []),
      ...(blind
        ? [
            'The charge temperature does not rise with boost: it sits before the compressor, so air under boost is doubtful.',
          ]
        : []),
    ],
    details: {
      pulls: all.map(({ input, from, to, excess: e, excessU, rich: r, signs }) => ({
        input,
        from,
        to,
        ...(Number.isNaN(e) ? {} : { excess: e, excessU }),
        ...(Number.isNaN(r) ? {} : { rich: r }),
        signs,
      })),
    },
  };
  const channels = observed.flatMap(({ observation }) => observation.channels);
  if (found.length >= PULLS_NEEDED) {
    const signs = [...new Set(found.flatMap((each) => each.signs))];
    const worst = found.reduce((a, b) => (b.excess > a.excess || Number.isNaN(a.excess) ? b : a));
    const margin = Number.isNaN(worst.excess) ? 1 : worst.excess;
    return {
      ...base,
      outcome: 'finding',
      severity: 'repair',
      confidence: confidenceOf({
        margin,
        uncertainty: Number.isNaN(worst.excess) ? 0 : worst.excessU,
        samples: found.reduce((total, { samples }) => total + samples, 0),
        channels,
        doubts: signs.length > AGREE ? [] : [0.95],
      }),
      summary: `In ${counted(found.length, 'pull')} signs of escaping charge air agree, first from ${clockTime(found[0]!.from)}: ${listed(signs.map((sign) => NAMES[sign]))}${Number.isNaN(excess) ? '' : `; metered air ${figure(100 * excess, 0)} % over computed (limit ${figure(100 * named.divergence!.value, 0)} %)`}${Number.isNaN(rich) ? '' : `; ${figure(100 * rich, 0)} % less fuel needed than in cruise (limit ${figure(100 * named.rich!.value, 0)} %)`}.`,
      events: found.map(({ input, from, to, excess: e, rich: r, signs: shown, ratio }) => ({
        input,
        from,
        to,
        severity: 'repair' as const,
        ...(Number.isNaN(e) ? (Number.isNaN(r) ? {} : { peak: { value: r } }) : { peak: { value: e } }),
        pressureRatio: { value: ratio },
        signs: shown.join(', '),
      })),
      causes: [
        'charge pipe, hose or clamp between compressor and throttle leaking under boost',
        'charge cooler cracked or its end tank loose',
        'dump valve that does not shut under boost: worn diaphragm or seat',
        'intake manifold gasket or a crankcase ventilation valve that lets boost through',
        ...(metered ? ['air meter scaled for another housing, if no leak is found'] : []),
      ],
      advice: [
        'Look for oil traces and polished spots along the charge pipes, and pull at every hose and clamp with the engine cold.',
        'Smoke or pressure test from the compressor inlet, up to the boost the car makes.',
        'Close off the dump valve for a test under pressure: does the leak stop?',
        'After the repair repeat the same pulls and compare.',
      ],
    };
  }
  const air = told.includes('divergence') || told.includes('rich');
  const actuator = told.includes('authority');
  const missed = !metered && all.some(({ signs }) => signs.includes('authority'));
  const vague = metered && !told.includes('rich') && !(middle(all.map((each) => each.excessU)) < 0.05);
  if (all.length < PULLS_NEEDED || (metered ? !air : !actuator) || missed || vague) {
    return {
      ...base,
      outcome: 'unproven',
      summary:
        all.length < PULLS_NEEDED
          ? `${counted(all.length, 'pull')} under boost above 2500 rpm.`
          : missed
            ? 'The boost actuator stands at its end, but without an air meter or turbocharger speed nothing tells a leak from a tired turbocharger.'
            : 'What would show a leak under boost is not recorded, or too uncertain.',
      missing:
        all.length < PULLS_NEEDED
          ? { channels: observed.flatMap(({ observation }) => observation.missing.channels), conditions: [CONDITION] }
          : missed
            ? { channels: ['turboSpeed'], conditions: ['smoke or pressure test of the charge pipes'] }
            : {
                channels: metered
                  ? ['lambda', 'lambdaTarget', ...(blind ? ['chargeAirTemperature'] : [])]
                  : ['wastegateDuty', 'boostPressureTarget'],
                conditions: [],
              },
    };
  }
  return {
    ...base,
    outcome: 'clear',
    confidence: confidenceOf({
      margin: Math.min(
        Number.isNaN(excess) ? 1 : named.divergence!.value - excess,
        Number.isNaN(rich) ? 1 : named.rich!.value - rich,
      ),
      uncertainty: Number.isNaN(rich) ? middle(all.map((each) => each.excessU)) : RICH_U,
      samples: all.reduce((total, { samples }) => total + samples, 0),
      channels,
      doubts: [metered ? 0.95 : 0.8],
    }),
    summary: metered
      ? `In ${counted(all.length, 'pull')} no two signs of a leak agree${Number.isNaN(excess) ? '' : `: metered air ${figure(100 * excess, 0)} % over computed`}${Number.isNaN(rich) ? '' : `, mixture ${figure(100 * Math.max(0, rich), 0)} % richer than in cruise`}.`
      : `In ${counted(all.length, 'pull')} boost was reached with the actuator away from its end.`,
  };
}

function middle(values: readonly number[]): number {
  const known = values.filter((x) => !Number.isNaN(x)).sort((a, b) => a - b);
  return known.length === 0 ? Number.NaN : known[known.length >> 1]!;
}
