import { SAMPLES } from '../../derived/samples.js';
import { confidenceOf } from '../confidence.js';
import { levelOf, limitOf, rankOf, worst } from '../ladder.js';
import {
  type Context,
  defineRule,
  type Judgement,
  type LimitDefinition,
  type Observed,
  type Severity,
} from '../rule.js';
import { clockTime, figure, signed } from '../wording.js';
import { type CamObservation, ENOUGH, HELD, readCams } from './cam-timing-reading.js';

const CP = 'common practice, no source';
const limits: readonly LimitDefinition[] = [
  {
    name: 'follow-watch',
    value: 3,
    unit: 'deg',
    comparison: '>',
    source: CP,
    about: 'camshaft off its still target for 2 s, degrees of the crank',
  },
  { name: 'follow-repair', value: 6, unit: 'deg', comparison: '>', source: CP, about: 'the same' },
  {
    name: 'offset-watch',
    value: 5,
    unit: 'deg',
    comparison: '>',
    source: CP,
    about: 'one bank against the other, or the stored offset',
  },
  { name: 'offset-repair', value: 8, unit: 'deg', comparison: '>', source: CP, about: 'the same' },
];
const CONDITION = `warm driving (oil >= 60 °C) above 1200 rpm with still camshaft targets for >= ${ENOUGH} s`;
/** Standard uncertainty of a stored offset, deg; common practice. */
const STORED_U = 0.5;

const FOLLOW_CAUSES = [
  'phaser sticks or its lock pin does not release: sludge, worn rotor',
  'oil control valve or its screen dirty',
  'oil pressure low, oil of the wrong grade or diluted',
  'sensor or trigger wheel shifted',
];
const OFFSET_CAUSES = [
  'timing chain stretched, tensioner or guide worn',
  'chain or belt a tooth out after work',
  'phaser of one bank does not return to its stop',
];

interface Case {
  readonly kind: 'follow' | 'offset';
  readonly value: number;
  readonly u: number;
  readonly severity: Severity | undefined;
  readonly told: string;
  readonly input: number;
  readonly at: number;
}

export const camTiming = defineRule({
  id: 'engine.cam-timing',
  system: 'engine',
  question: 'Do the camshafts follow their targets, and does the chain hold them?',
  why: 'A stretched chain first shows as a camshaft that stands some degrees off; when it jumps, valves meet pistons.',
  weight: 3,
  needs: {
    channels: [],
    optional: [
      'intakeCamAngle',
      'exhaustCamAngle',
      'intakeCamTarget',
      'exhaustCamTarget',
      'camOffset',
      'engineOilTemperature',
      'coolantTemperature',
      'engineSpeed',
    ],
    derived: [SAMPLES],
    conditions: [CONDITION],
  },
  limits,
  method:
    'Actual less target of each camshaft while its target has been still for a second, oil warm and engine above idle: what is held for two seconds is compared. Offset: the difference between the banks of what remains on the median, and the offset that the control unit has stored.',
  decoys: [
    'degrees of the cam against degrees of the crank, or counted the other way: told by the slope of actual on target, and converted',
    'hot idle: little oil pressure, phasers wait; not judged below 1200 rpm',
    'cold oil: not judged below 60 °C',
    'a moving target: the phaser is allowed to be behind it',
  ],
  cautions: [
    'With a rattle from the chain at start, or an offset at repair, do not go on driving hard: an engine whose chain jumps is lost.',
  ],
  proves:
    'Ten minutes of warm driving at changing load with camshaft angle and target of each bank, engine speed and oil temperature at 5 Hz; the stored camshaft offset from the control unit.',
  observe: (view) => readCams(view),
  judge,
});

function judge(observed: readonly Observed<CamObservation>[], context: Context): Judgement {
  const named = context.limits();
  const cases = observed.flatMap(({ input, observation }) =>
    casesOf(input, observation, (value, u, what) => levelOf(value, u, named, what)),
  );
  const cams = observed.flatMap(({ observation }) => observation.cams);
  const stored = observed.flatMap(({ observation }) => observation.stored);
  const seconds = observed.reduce(
    (total, { observation }) => total + Math.max(0, ...observation.cams.map((cam) => cam.seconds)),
    0,
  );
  const top = (kind: Case['kind']) =>
    cases
      .filter((each) => each.kind === kind)
      .reduce<Case | undefined>(
        (a, b) => (a === undefined || Math.abs(b.value) > Math.abs(a.value) ? b : a),
        undefined,
      );
  const follow = top('follow');
  const offset = top('offset');
  const scales = [...new Set(cams.map(({ scale }) => scale))].filter((scale) => scale !== 1);
  const base = {
    measures: {
      ...(follow === undefined ? {} : { deviation: { value: follow.value, unit: 'deg' } }),
      ...(offset === undefined ? {} : { offset: { value: Math.abs(offset.value), unit: 'deg' } }),
      still: { value: seconds, unit: 's' },
    },
    limits: Object.values(named).filter(({ name }) =>
      name.startsWith('follow') ? follow !== undefined : offset !== undefined,
    ),
    notes: [
      ...scales.map(
        (scale) =>
          `Actual reads ${figure(scale)} times its target all along (degrees of the cam and of the crank, or counted the other way): converted.`,
      ),
      ...(observed.every(({ observation }) => observation.oilKnown) || cams.length === 0
        ? []
        : ['Oil temperature not recorded: coolant stands in for it.']),
    ],
  };
  const severity = worst(cases.map((each) => each.severity));
  if (severity === undefined) {
    if (seconds < ENOUGH && stored.length === 0) {
      return {
        ...base,
        outcome: 'unproven',
        summary: `Only ${figure(seconds, 0)} s of warm driving with still camshaft targets.`,
        missing: { channels: [], conditions: [CONDITION] },
      };
    }
    const lead = follow ?? offset!;
    const limit = limitOf(named, 'watch', lead.kind);
    const near = cases.some((each) => Math.abs(each.value) > limitOf(named, 'watch', each.kind).value);
    return {
      ...base,
      outcome: 'clear',
      confidence: confidenceOf({
        margin: limit.value - Math.abs(lead.value),
        uncertainty: lead.u,
        samples: Math.max(1, Math.round(seconds)),
        channels: [...cams, ...stored].map(({ channel }) => channel),
      }),
      summary:
        `${[follow, offset].flatMap((each) => (each === undefined ? [] : [each.told])).join('; ')}; watch beyond ${figure(limit.value)}°${near ? ', near the limit' : ''}.`.replace(
          /^./,
          (c) => c.toUpperCase(),
        ),
    };
  }
  const found = cases
    .filter((each) => each.severity !== undefined)
    .sort((a, b) => rankOf(b.severity) - rankOf(a.severity));
  const lead = found[0]!;
  const limit = limitOf(named, severity, lead.kind);
  const kinds = new Set(found.map(({ kind }) => kind));
  return {
    ...base,
    outcome: 'finding',
    severity,
    confidence: confidenceOf({
      margin: Math.abs(lead.value) - limit.value,
      uncertainty: lead.u,
      samples: Math.max(1, Math.round(seconds)),
      channels: [...cams, ...stored].map(({ channel }) => channel),
    }),
    summary: `${found.map(({ told }) => told).join('; ')} (limit ${figure(limit.value)}°).`.replace(/^./, (c) =>
      c.toUpperCase(),
    ),
    events: found.flatMap(({ input, at, severity: level, value, kind }) =>
      Number.isNaN(at)
        ? []
        : [{ input, from: at, to: at + HELD, severity: level!, kind, peak: { value, unit: 'deg' } }],
    ),
    causes: [...(kinds.has('offset') ? OFFSET_CAUSES : []), ...(kinds.has('follow') ? FOLLOW_CAUSES : [])],
    advice: [
      'Check oil level and grade; read the camshaft codes and adaptation values.',
      'Clean or replace the oil control valve and its screen, then repeat the drive.',
      'Listen for chain rattle at a cold start; look at chain and tensioner through the filler or by the tensioner’s travel.',
      ...(kinds.has('offset')
        ? ['Have the timing checked against its marks before the car is driven hard again.']
        : []),
    ],
  };
}

function casesOf(
  input: number,
  { cams, stored }: CamObservation,
  level: (value: number, u: number, what: Case['kind']) => Severity | undefined,
): Case[] {
  const nameOf = (side: string, bank: string) =>
    `${side} camshaft${bank === '' ? '' : ` of ${bank.replace('bank', 'bank ')}`}`;
  const follow = cams.map(
    ({ side, bank, held, at, u }): Case => ({
      kind: 'follow',
      value: held,
      u,
      severity: level(Math.abs(held), u, 'follow'),
      told: `${nameOf(side, bank)} stood ${signed(held)}° off its target for ${HELD} s at ${clockTime(at)}`,
      input,
      at,
    }),
  );
  const between = (['intake', 'exhaust'] as const).flatMap((side): Case[] => {
    const [one, two] = cams.filter((cam) => cam.side === side);
    if (one === undefined || two === undefined) return [];
    const value = one.middle - two.middle;
    const u = Math.hypot(one.u, two.u);
    return [
      {
        kind: 'offset',
        value,
        u,
        severity: level(Math.abs(value), u, 'offset'),
        told: `the ${side} camshafts of the banks stand ${figure(Math.abs(value))}° apart`,
        input,
        at: one.at,
      },
    ];
  });
  const learned = stored.map(
    ({ bank, value }): Case => ({
      kind: 'offset',
      value,
      u: STORED_U,
      severity: level(Math.abs(value), STORED_U, 'offset'),
      told: `stored camshaft offset${bank === '' ? '' : ` of ${bank.replace('bank', 'bank ')}`} ${signed(value)}°`,
      input,
      at: Number.NaN,
    }),
  );
  return [...follow, ...between, ...learned];
}
