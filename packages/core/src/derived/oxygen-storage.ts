import { quantile } from '../math/quantile.js';
import type { Channel } from '../recording/recording.js';
import { FUEL_CUT } from './fuel-cut.js';
import { firstAtOrAfter, maskOf } from './intervals.js';
import { isFrontLambda } from './lambda-lag.js';
import { type Drive, isRefusal, recipe, refuse } from './recipe.js';
import { freshRate } from './refresh.js';
import { type Samples, samplesOf } from './samples.js';
import { WARM } from './warm.js';

/** Air that one bank's catalyst swallowed in a fuel cut before its rear sensor read lean. */
export interface StorageEvent {
  readonly bank: number;
  /** Seconds at which the front, and the rear (or the cut's end), were lean. */
  readonly from: number;
  readonly to: number;
  /** g of air of this bank between both; a lower bound where the rear did not answer. */
  readonly air: number;
  /** Standard uncertainty of the store being smaller, g: sampling of both sensors, their own delays, air meter. */
  readonly u: number;
  /** The part of it that differs from cut to cut: sampling of both sensors, g. */
  readonly sampling: number;
  /** Standard uncertainty of the store being larger, g, without sampling: a rear sensor sooner than the front one, air meter. */
  readonly uLarger: number;
  /** Mean air flow of the bank, g/s. */
  readonly flow: number;
  /** The rear sensor went lean within the cut. */
  readonly reached: boolean;
}

/** Both sensors of the catalyst of one bank. */
export interface CatalystSensors {
  readonly bank: number;
  readonly front: Channel;
  /** The front sensor switches (volts of a narrow-band sensor) and measures no mixture. */
  readonly narrow: boolean;
  readonly rear: Channel;
}

export interface OxygenStorage {
  readonly sensors: readonly CatalystSensors[];
  readonly events: readonly StorageEvent[];
  /** 1 where the catalysts are warm enough. */
  readonly hot: Uint8Array;
  /** What says so; `assumed` without a catalyst temperature. */
  readonly heat: string;
  readonly heatAssumed: boolean;
  /** Banks that share the air flow, and whether that is a guess. */
  readonly banks: number;
  readonly banksAssumed: boolean;
  /** Why there are no storage events, where that is not for lack of cuts. */
  readonly obstacle:
    | { readonly reason: string; readonly channels: readonly string[]; readonly conditions: readonly string[] }
    | undefined;
}

/** degC from which a three-way catalyst stores oxygen (limit of the rule catalogue). Common practice, no source. */
const HOT = 400;
/** Without a temperature: seconds for which the engine has been warm. Common practice, no source. */
const WARMED = 180;
/** Slowest sensors with which a lag can be told, Hz: 0.25 s at 8 g/s are 2 g. Derived. */
export const STORAGE_HZ = 4;
/** Front lean: lambda, and volts of a narrow-band sensor; rear lean and not yet lean, V. Common practice, no source. */
const LEAN = 1.15;
const LEAN_VOLTS = 0.2;
const REAR_LEAN = 0.25;
const REAR_RICH = 0.45;
/** Seconds before the front is lean in which the rear sensor has to have been rich; behind a dead catalyst it swings. */
const BEFORE = 1.2;
/** The front may have been lean for so long (s) in the seconds before the cut: what came then is in the store already. */
const FILLED = { seconds: 0.4, within: 6 } as const;
/** Shortest cut, s. */
const CUT = 2;
/** Standard uncertainty of how much later one sensor answers than the other, s; share of the air meter. Common practice, no source. */
const ANSWERS = 0.1;
/** The same for the rear sensor answering sooner, s: it stands behind, and has farther to swing. Common practice, no source. */
const SOONER = 0.05;
/** s for which the front sensor has to stay lean. */
const STAYS = 0.7;
const METER = 0.05;
/** A switching sensor stays below this, V. */
const SWITCHES = 1.3;

/** Share of oxygen in dry air by mass (ISO 2533:1975: 20.95 % by volume of 31.999 in 28.964 g/mol). */
export const OXYGEN_SHARE = (0.2095 * 31.999) / 28.964;

export const OXYGEN_STORAGE = recipe<OxygenStorage>({
  id: 'oxygenStorage',
  about:
    'Oxygen storage of each catalyst, as g of air (23.1 % of it oxygen) that flow in a fuel cut from the moment at which the front sensor is lean until the rear one is: the integral of the air flow of that bank (rear lag x air flow). Domain: three-way catalyst above 400 °C, cut of >= 2 s, both sensors at >= 4 Hz, rear sensor rich before, front not lean for more than 0.4 s of the 6 s before. The delay of the rear sensor can only add to it, so that the store is hardly ever larger than measured. Uncertainty: sampling, 0.1 s by which the rear sensor answers late and 0.05 s by which it answers soon, 5 % of the air flow (common practice, no source).',
  compute(drive) {
    const sensors = sensorsOf(drive);
    if (sensors.length === 0)
      return refuse('no catalyst has a sensor before and one behind it in the recording', {
        channels: ['oxygenSensorVoltage.bank1Sensor2', 'lambda.bank1'],
      });
    const samples = samplesOf(drive);
    const heat = heatOf(drive, samples);
    const banks = banksOf(drive);
    const air = samples.held('airMassFlow') ?? samples.held('exhaustMassFlow');
    const cuts = drive.derive(FUEL_CUT);
    const slow = sensors
      .flatMap(({ front, rear }) => [front, rear])
      .filter((each) => freshRate(each).hz < 0.95 * STORAGE_HZ);
    const obstacle =
      air === undefined
        ? { reason: 'the air flow is not recorded', channels: ['airMassFlow'], conditions: [] }
        : isRefusal(cuts)
          ? { reason: cuts.reason, channels: cuts.missing.channels, conditions: cuts.missing.conditions }
          : slow.length > 0
            ? {
                reason: `${slow.map(({ id }) => id).join(' and ')} too slow to time`,
                channels: [],
                conditions: slow.map(({ id }) => `${id} at >= ${STORAGE_HZ} Hz`),
              }
            : undefined;
    const events: StorageEvent[] = [];
    if (air !== undefined && !isRefusal(cuts) && obstacle === undefined) {
      // Where the cut itself is seen, overrun beside it is none: fuel comes back in it, and empties the store.
      const sure = cuts.seen.length > 0 ? cuts.seen : cuts.segments;
      const mask = maskOf(sure, drive.time.length);
      for (const pair of sensors)
        for (const cut of sure) {
          const event =
            heat.hot[cut.start] === 1 ? eventOf(drive, samples, pair, cut, air, banks.count, mask) : undefined;
          if (event !== undefined) events.push(event);
        }
    }
    return {
      sensors,
      events,
      hot: heat.hot,
      heat: heat.source,
      heatAssumed: heat.assumed,
      banks: banks.count,
      banksAssumed: banks.assumed,
      obstacle,
    };
  },
});

function bankOf(id: string): number {
  return Number(/bank(\d)/i.exec(id)?.[1] ?? 1);
}

function sensorsOf(drive: Drive): CatalystSensors[] {
  const volts = drive.family('oxygenSensorVoltage');
  const wide = drive.family('lambda').filter(isFrontLambda);
  const found: CatalystSensors[] = [];
  for (const rear of volts) {
    if (!/sensor2$/i.test(rear.id)) continue;
    const bank = bankOf(rear.id);
    const own = wide.find(({ id }) => id !== 'lambda' && bankOf(id) === bank) ?? wide.find(({ id }) => id === 'lambda');
    const switching = volts.find(
      ({ id, values }) => !/sensor[2-9]/i.test(id) && bankOf(id) === bank && quantile(values, 0.98) <= SWITCHES,
    );
    // A switching front sensor shows more of the catalyst than the lambda that some units make of it.
    const front = switching ?? own;
    if (front !== undefined) found.push({ bank, front, narrow: front === switching, rear });
  }
  return found;
}

function heatOf(drive: Drive, samples: Samples): { hot: Uint8Array; source: string; assumed: boolean } {
  const hot = new Uint8Array(drive.time.length);
  for (const base of ['catalystTemperature', 'catalystTemperatureModelled']) {
    const channel = drive.family(base).find(({ quality }) => quality.samples > 0);
    const values = channel === undefined ? undefined : samples.held(channel.id);
    if (channel === undefined || values === undefined) continue;
    for (let i = 0; i < hot.length; i++) if (values[i]! > HOT) hot[i] = 1;
    return { hot, source: channel.id, assumed: false };
  }
  const warm = drive.derive(WARM);
  if (!isRefusal(warm))
    for (let i = 0; i < hot.length; i++)
      if (warm.mask[i] === 1 && drive.time[i]! - Math.max(warm.since, drive.time[0]!) >= WARMED) hot[i] = 1;
  return { hot, source: isRefusal(warm) ? 'unknown' : `${warm.source}: warm for three minutes`, assumed: true };
}

/** Up to four cylinders have one bank; more have as many as the recording names, else it is a guess. */
function banksOf(drive: Drive): { count: number; assumed: boolean } {
  for (const id of drive.recording.channels.keys()) if (/bank2/i.test(id)) return { count: 2, assumed: false };
  const { cylinders } = drive.vehicle.engine;
  return { count: 1, assumed: cylinders === undefined || cylinders > 4 };
}

function eventOf(
  drive: Drive,
  samples: Samples,
  { bank, front, narrow, rear }: CatalystSensors,
  cut: { readonly from: number; readonly to: number },
  air: Float64Array,
  banks: number,
  fuelCut: Uint8Array,
): StorageEvent | undefined {
  if (cut.to - cut.from < CUT) return undefined;
  const { time } = drive;
  const ahead = samples.held(front.id)!;
  const behind = samples.held(rear.id)!;
  const lean = (i: number) => (narrow ? ahead[i]! < LEAN_VOLTS : ahead[i]! > LEAN);
  // Lean to stay: a switching sensor passes through lean before any cut, and may do so as it begins.
  let start = -1;
  for (let i = firstAtOrAfter(time, cut.from - (narrow ? 0 : 1)); i < time.length && time[i]! <= cut.to; i++) {
    if (!lean(i)) start = -1;
    else if (start < 0) start = i;
  }
  if (start < 0 || time[start]! < cut.from - 0.9 || cut.to - time[start]! < STAYS) return undefined;
  // Filled by what was lean just before: it shows less than it holds. A switching sensor passes through lean all the time.
  let filled = 0;
  for (let i = start - 1; i > 0 && time[i]! > time[start]! - FILLED.within; i--)
    if (narrow ? fuelCut[i] === 1 && time[i]! < cut.from : lean(i)) filled += time[i + 1]! - time[i]!;
  if (filled > FILLED.seconds) return undefined;
  // Full of oxygen already: it shows nothing. What follows the front sensor at once is rich in between.
  let rich = false;
  for (let i = start; i >= 0 && time[i]! > time[start]! - BEFORE && !rich; i--) rich = behind[i]! >= REAR_RICH;
  if (!rich) return undefined;
  let sum = 0;
  let end = start;
  let reached = false;
  for (let i = start; i < time.length && time[i]! <= cut.to; i++) {
    if (Number.isNaN(behind[i]!) || Number.isNaN(air[i]!)) return undefined;
    if (i > start) {
      if (time[i]! - time[i - 1]! > samples.maxStep) return undefined;
      sum += 0.5 * (air[i]! + air[i - 1]!) * (time[i]! - time[i - 1]!);
    }
    end = i;
    reached = behind[i]! < REAR_LEAN;
    if (reached) break;
  }
  const seconds = time[end]! - time[start]!;
  const grams = sum / banks;
  const flow = seconds > 0 ? grams / seconds : air[start]! / banks;
  const pace = Math.hypot(1 / samples.hz(front.id), 1 / samples.hz(rear.id)) / Math.sqrt(12);
  return {
    bank,
    from: time[start]!,
    to: time[end]!,
    air: grams,
    u: Math.hypot(flow * Math.hypot(pace, ANSWERS), METER * grams),
    sampling: flow * pace,
    uLarger: Math.hypot(flow * SOONER, METER * grams),
    flow,
    reached,
  };
}
