import { AXLE_SPEEDS } from '../../derived/axle-speeds.js';
import { maskOf } from '../../derived/intervals.js';
import { READ_OUT } from '../../derived/read-out.js';
import { isRefusal, type Refusal, refuse } from '../../derived/recipe.js';
import { heldValues } from '../../derived/refresh.js';
import { BRAKING } from '../../derived/segments.js';
import type { Certainty, Channel } from '../../recording/recording.js';
import { confidenceOf } from '../confidence.js';
import { type Context, defineRule, type Judgement, type LimitDefinition, type Observed } from '../rule.js';
import { clockTime, counted, figure, listed } from '../wording.js';
import { couplingCodes } from './front-drive-codes.js';
import { type Spin, spinsOf } from './front-drive-reading.js';

const CP = 'common practice, no source';
const limit = (
  name: string,
  value: number,
  unit: string,
  comparison: '>' | '>=' | '<=',
  about: string,
): LimitDefinition => ({
  name,
  value,
  unit,
  comparison,
  source: CP,
  about,
});

/** Rates, corners and speeds at which couplings open on purpose. Common practice, no source. */
const RATE = 6;
const STEERING = 60; // deg at the wheel
const YAW = 8; // deg/s
const CUT_OFF = 160; // km/h
const HOT = 120; // degC

const ID = 'driveline.front-drive';

interface Observation {
  /** Codes of a read-out that agree; undefined in a drive. */
  readonly codes?: readonly string[];
  readonly spins: readonly Spin[];
  readonly certain: readonly { readonly certainty: Certainty }[];
}

export const frontDrive = defineRule({
  id: ID,
  system: 'driveline',
  question: 'Does torque really reach the second axle?',
  why: 'The driver cannot feel that the second axle has stopped driving: the car just spins one axle, and the other one overheats its tyres and differential.',
  weight: 2,
  needs: {
    channels: ['couplingDuty'],
    optional: [
      'wheelSpeed',
      'axleSpeed',
      'brakeSwitch',
      'steeringAngle',
      'yawRate',
      'stabilityControlActive',
      'antilockActive',
      'couplingTemperature',
    ],
    derived: [AXLE_SPEEDS, BRAKING, READ_OUT],
    conditions: ['pull-away on a slippery surface that spins one axle while the coupling is commanded, straight ahead'],
  },
  readOuts: true,
  limits: [
    limit('command', 60, '%', '>=', 'command to the coupling'),
    limit('difference', 5, 'km/h', '>', 'difference of the axle speeds, tyres taken out'),
    limit('share', 5, '%', '>', 'and of the faster axle'),
    limit(
      'halved',
      0.5,
      's',
      '<=',
      'time in which the difference has to halve once the coupling has had half a second to close',
    ),
    limit('repair', 2, '1', '>=', 'times that it did not halve'),
    limit('stop', 1, '1', '>=', 'stored codes of the coupling, where it did not halve as often as that'),
  ],
  method:
    'While the coupling is commanded and the axles run apart, straight ahead and without brakes, the difference of the axle speeds has to halve. Different tyres are taken out by the ratio of the axles in steady driving. Each spin counts once; a coupling that closed in every spin is clear, one failure alone stays open. A stored code of the coupling makes a repair a stop; by itself it is left to the codes. Without a command nobody knows whether the coupling was asked.',
  decoys: [
    'low command: the coupling carries little then; only commands beyond the limit count',
    'stability control or anti-lock braking opens the coupling: their flags, and braking, end a spin',
    'over-temperature cut-out: the command is gone, or the coupling is hot',
    'cut-off at high speed: not judged there',
    'codes: pending ones, those of a weak battery, and those about other control units do not count',
    'braking: axles differ by brake force',
    'corners: axles run on different radii; steering, yaw rate, or wheels of one axle that differ, leave them out',
  ],
  cautions: [
    'Spin wheels only on a closed course with room on all sides.',
    'Never run an all-wheel-drive car on single-axle rollers, nor tow it with one axle down, unless the procedure of the maker is followed.',
  ],
  proves:
    'On a closed, loose or wet surface, straight ahead: pull away twice so hard that an axle spins, with the four wheel speeds and the command to the coupling at 10 Hz or more; and read the codes of every control unit.',
  notApplicable: ({ driveline: { driven } }) =>
    driven === 'front' || driven === 'rear' ? 'The car drives one axle only.' : undefined,
  observe(view, context): Observation | Refusal {
    const readOut = view.derive(READ_OUT);
    if (!isRefusal(readOut)) {
      const codes = couplingCodes(readOut.codes ?? [], ID);
      return codes.length > 0
        ? { codes, spins: [], certain: [] }
        : refuse('the read-out holds no code of the coupling', { channels: ['couplingDuty'] });
    }
    const axles = view.derive(AXLE_SPEEDS);
    if (isRefusal(axles)) return axles;
    const command = view.channel('couplingDuty');
    if (!(axles.hz >= 0.95 * RATE))
      return refuse(`wheel speeds at ${axles.hz.toPrecision(2)} Hz are too slow to see a difference halve`, {
        conditions: [`wheelSpeed at >= ${RATE} Hz`],
      });
    const usable = new Uint8Array(view.time.length).fill(1);
    const braking = view.derive(BRAKING);
    // A spinning wheel that grips again looks like braking: only braking that the switch confirms, where there is one.
    const brake = view.optional('brakeSwitch');
    if (brake === undefined && !isRefusal(braking)) clear(usable, maskOf(braking, usable.length));
    const forbid = (channel: Channel | undefined, holds: (x: number) => boolean): void => {
      if (channel === undefined || channel.quality.constant) return;
      const values = heldValues(channel.values, view.time);
      for (let i = 0; i < usable.length; i++) if (holds(values[i]!)) usable[i] = 0;
    };
    forbid(brake, (x) => x > 0);
    forbid(view.optional('steeringAngle'), (x) => Math.abs(x) > STEERING);
    forbid(view.optional('yawRate'), (x) => Math.abs(x) > YAW);
    forbid(view.optional('stabilityControlActive'), (x) => x > 0);
    forbid(view.optional('antilockActive'), (x) => x > 0);
    forbid(view.optional('couplingTemperature'), (x) => x > HOT);
    for (let i = 0; i < usable.length; i++) if (Math.min(axles.front[i]!, axles.rear[i]!) > CUT_OFF) usable[i] = 0;
    const [left, right] = view.family('wheelSpeed');
    if (view.optional('steeringAngle') === undefined && view.optional('yawRate') === undefined)
      clear(usable, corners(left, right, usable.length));
    const spins = spinsOf(axles, heldValues(command.values, view.time), view.time, usable, context.limits());
    return { spins, certain: [command, ...axles.channels.flatMap((id) => view.optional(id as 'wheelSpeed') ?? [])] };
  },
  judge,
});

function clear(mask: Uint8Array, where: Uint8Array): void {
  for (let i = 0; i < mask.length; i++) if (where[i] === 1) mask[i] = 0;
}

/** Wheels of the front axle that differ by more than 8 % at 10 km/h or more: a tight bend. */
function corners(left: Channel | undefined, right: Channel | undefined, rows: number): Uint8Array {
  const mask = new Uint8Array(rows);
  if (left === undefined || right === undefined) return mask;
  for (let i = 0; i < rows; i++) {
    const middle = (left.values[i]! + right.values[i]!) / 2;
    if (middle >= 10 && Math.abs(left.values[i]! - right.values[i]!) > 0.08 * middle) mask[i] = 1;
  }
  return mask;
}

function judge(observed: readonly Observed<Observation>[], context: Context): Judgement {
  const limits = context.limits();
  const spins = observed.flatMap(({ input, observation }) => observation.spins.map((spin) => ({ input, spin })));
  const codes = [...new Set(observed.flatMap(({ observation }) => observation.codes ?? []))];
  const failed = spins.filter(({ spin }) => !spin.halved);
  const need = limits.repair!.value;
  const channels = observed.flatMap(({ observation }) => observation.certain);
  const base = {
    measures: {
      spins: { value: spins.length },
      notHalved: { value: failed.length },
      ...(codes.length > 0 ? { codes: { value: codes.length } } : {}),
    },
    ...(codes.length > 0 ? { notes: [`Stored for the coupling: ${listed(codes)}.`] } : {}),
    events: spins.map(({ input, spin }) => ({
      input,
      from: spin.from,
      to: spin.to,
      ...(spin.halved ? {} : { severity: 'repair' as const }),
      peak: { value: spin.difference, unit: 'km/h' },
      left: { value: spin.left, unit: 'km/h' },
      limit: { value: spin.difference / 2, unit: 'km/h' },
      command: { value: spin.command, unit: '%' },
    })),
    limits: Object.values(limits),
  };
  const first = (failed[0] ?? spins[0])?.spin;
  if (observed.every(({ observation }) => observation.codes !== undefined)) {
    return {
      ...base,
      outcome: 'unproven',
      summary: `A code of the coupling is stored (${listed(codes)}), but no drive shows whether torque reaches the second axle.`,
      missing: { channels: ['couplingDuty', 'wheelSpeed'], conditions: [] },
    };
  }
  if (failed.length >= need) {
    const agrees = codes.length >= limits.stop!.value;
    return {
      ...base,
      outcome: 'finding',
      severity: agrees ? 'stop' : 'repair',
      confidence: confidenceOf({
        margin: failed.length - need + 1,
        uncertainty: 0.5 + 0.5 * (spins.length - failed.length),
        samples: failed.reduce((sum, { spin }) => sum + spin.samples, 0),
        channels,
      }),
      summary: `${failed.length} of ${counted(spins.length, 'spin')} of one axle went on although the coupling was commanded: at ${clockTime(first!.from)} the axles ran ${figure(first!.difference)} km/h apart at ${figure(first!.command, 0)} % command and were still ${figure(first!.left)} km/h apart half a second after it should have closed.${agrees ? ` The stored code agrees (${listed(codes)}).` : ''}`,
      causes: [
        'coupling pump or actuator does not build pressure: worn brushes, clogged strainer',
        'worn coupling plates or old fluid',
        'disconnected, broken or removed shaft to the second axle',
        'wiring or control unit of the coupling',
      ],
      advice: [
        agrees
          ? 'Do not count on the second axle: no full load and no slippery roads until it is mended; look the stored code up in the service documents.'
          : 'Read the codes of the coupling control unit.',
        'Have the coupling fluid and the strainer of its pump looked at; both are cheap.',
        'On rated stands, have the second axle driven by the actuator test of a qualified technician.',
      ],
    };
  }
  if (failed.length > 0 || spins.length === 0) {
    return {
      ...base,
      outcome: 'unproven',
      summary:
        first === undefined
          ? 'No axle spun while the coupling was commanded, so the drive does not show whether torque reaches the second axle.'
          : `One axle spun at ${clockTime(first.from)} by ${figure(first.difference)} km/h although the coupling was commanded; once is not enough to tell.`,
      missing: {
        channels: [],
        conditions: ['two pull-aways on a slippery surface that spin one axle, straight ahead'],
      },
    };
  }
  return {
    ...base,
    outcome: 'clear',
    confidence: confidenceOf({
      margin: 1,
      uncertainty: 0.5,
      samples: spins.reduce((sum, { spin }) => sum + spin.samples, 0),
      channels,
      doubts: [spins.length / (spins.length + 0.5)],
    }),
    summary: `The coupling caught every spin (${counted(spins.length, 'spin')}): at ${clockTime(first!.from)} ${figure(first!.difference)} km/h between the axles fell to ${figure(first!.left)} km/h.`,
  };
}
