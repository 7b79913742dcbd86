/** Whether one monitor exists in the car, and whether its test has run to its end since codes were cleared. */
export interface MonitorState {
  /** Stable name, as in {@link MONITORS}. */
  readonly id: MonitorId;
  readonly supported: boolean;
  readonly complete: boolean;
}

type MonitorId =
  | 'misfire'
  | 'fuelSystem'
  | 'components'
  | 'catalyst'
  | 'heatedCatalyst'
  | 'evaporative'
  | 'secondaryAir'
  | 'particulateFilter'
  | 'oxygenSensor'
  | 'oxygenSensorHeater'
  | 'exhaustRecirculation';

export const MONITORS: Readonly<Record<MonitorId, string>> = {
  misfire: 'misfire',
  fuelSystem: 'fuel system',
  components: 'components',
  catalyst: 'catalyst',
  heatedCatalyst: 'heated catalyst',
  evaporative: 'fuel vapour system',
  secondaryAir: 'secondary air',
  // Older issues of the standard: refrigerant of the air conditioning.
  particulateFilter: 'particulate filter',
  oxygenSensor: 'oxygen sensor',
  oxygenSensorHeater: 'oxygen sensor heater',
  exhaustRecirculation: 'exhaust gas recirculation or variable valve timing',
};

export interface Readiness {
  /** The lamp is on by order of the control unit; undefined when not told. */
  readonly lamp?: boolean;
  /** Confirmed codes that the control unit counts; undefined when not told. */
  readonly codeCount?: number;
  readonly monitors: readonly MonitorState[];
}

const CONTINUOUS: readonly MonitorId[] = ['misfire', 'fuelSystem', 'components'];
const ONCE: readonly MonitorId[] = [
  'catalyst',
  'heatedCatalyst',
  'evaporative',
  'secondaryAir',
  'particulateFilter',
  'oxygenSensor',
  'oxygenSensorHeater',
  'exhaustRecirculation',
];

/**
 * The four data bytes of service 01, parameter 01, as hexadecimal digits (`81076504`, blanks and a leading `41 01` allowed).
 * Spark ignition only: undefined for compression ignition (bit B3) and for anything that is not four bytes.
 * Bits: SAE J1979 / ISO 15031-5 (from memory, checked against published vectors).
 */
export function decodeReadiness(text: string): Readiness | undefined {
  const digits = text
    .replace(/[\s:_-]/g, '')
    .replace(/^0x/i, '')
    .replace(/^4101(?=[0-9a-f]{8}$)/i, '');
  if (!/^[0-9a-f]{8}$/i.test(digits)) return undefined;
  const [a, b, c, d] = [0, 2, 4, 6].map((at) => Number.parseInt(digits.slice(at, at + 2), 16)) as [
    number,
    number,
    number,
    number,
  ];
  if ((b & 8) !== 0) return undefined;
  const bit = (byte: number, n: number): boolean => ((byte >> n) & 1) === 1;
  const state = (id: MonitorId, supported: boolean, open: boolean): MonitorState => ({
    id,
    supported,
    complete: supported && !open,
  });
  return {
    lamp: bit(a, 7),
    codeCount: a & 0x7f,
    monitors: [
      ...CONTINUOUS.map((id, n) => state(id, bit(b, n), bit(b, n + 4))),
      ...ONCE.map((id, n) => state(id, bit(c, n), bit(d, n))),
    ],
  };
}

/** Wordings of monitors; the more special ones first. */
const WORDINGS: readonly (readonly [RegExp, MonitorId])[] = [
  [/misfire/, 'misfire'],
  [/fuel system|fuel trim/, 'fuelSystem'],
  [/component/, 'components'],
  [/heated cat/, 'heatedCatalyst'],
  [/cataly|\bcat\b/, 'catalyst'],
  [/evap|vapou?r/, 'evaporative'],
  [/secondary air|\bair\b injection/, 'secondaryAir'],
  [/particulate|\bgpf\b|\bopf\b|refrigerant/, 'particulateFilter'],
  [/(oxygen|o2|lambda|ho2s).*heater|heater.*(oxygen|o2|lambda)/, 'oxygenSensorHeater'],
  [/oxygen|\bo2\b|\bho2s\b|lambda sensor/, 'oxygenSensor'],
  [/\begr\b|\bvvt\b|recirculation|valve timing/, 'exhaustRecirculation'],
];

/**
 * Monitor and state of a row in words (`Catalyst monitor`, `not complete`); undefined unless name and value both say so.
 * @param value `complete`, `ready`, `incomplete`, `not ready`, `not supported`, … in any case.
 */
export function spokenMonitor(name: string, value: string): MonitorState | undefined {
  const words = name
    .toLowerCase()
    .replace(/[^a-z0-9]+/g, ' ')
    .trim();
  const said = value
    .toLowerCase()
    .replace(/[^a-z]+/g, ' ')
    .trim();
  const found = WORDINGS.find(([pattern]) => pattern.test(words))?.[1];
  if (found === undefined) return undefined;
  if (/^(not (supported|available|applicable|fitted)|unsupported|n a|na|none)$/.test(said))
    return { id: found, supported: false, complete: false };
  if (/^(not|in)\s?(complete|completed|ready|finished)$|^(incomplete|open|pending|unready|not run)$/.test(said))
    return { id: found, supported: true, complete: false };
  if (/^(complete|completed|ready|finished|passed|ok|done)$/.test(said))
    return { id: found, supported: true, complete: true };
  return undefined;
}

/** Monitors that the car has and whose test has not finished. */
export function openMonitors({ monitors }: Readiness): readonly MonitorState[] {
  return monitors.filter(({ supported, complete }) => supported && !complete);
}
