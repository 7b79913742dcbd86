import type { CarSpec } from './car.js';
import { CARS, carById } from './cars.js';
import { cylinderSet, fuelSet, fullSet, OFTEN_LEFT_OUT, serviceSet } from './channel-sets.js';
import { type Dialect, drawDialect, PLAIN } from './dialect.js';
import { FAULTS } from './faults/catalogue.js';
import type { DriveDraft, Expectation, FaultFamily, Level } from './faults/fault.js';
import { drawMemory } from './memory.js';
import { profileOf } from './profile.js';
import { Random } from './random.js';
import type { ChannelSetting, RecordSpec } from './record.js';
import type { Phase } from './script.js';
import type { DriveSpec } from './simulate.js';
import { thorough } from './thorough.js';

/** Kinds of healthy drives. `inspection` holds every phase that the catalogue's rules ask for. */
export const DRIVE_KINDS = [
  'inspection',
  'commute',
  'mountain',
  'town',
  'circuit',
  'motorway',
  'hotDay',
  'winter',
  'short',
] as const;
/** `thorough` is drawn beside the others: everything logged, every phase driven. */
export type DriveKind = (typeof DRIVE_KINDS)[number] | 'thorough';
/** Share of the healthy drives that are thorough. */
const THOROUGH = 0.35;

export interface DriveWish {
  readonly seed: number;
  readonly kind?: DriveKind;
  /** Car id; default drawn. */
  readonly car?: string;
  readonly faults?: readonly {
    readonly rule: string;
    readonly level: Level | 'under' /** 0..1, default drawn. */;
    readonly dial?: number;
  }[];
  readonly decoys?: readonly { readonly rule: string; readonly name: string }[];
  /** Written plainly instead of in a drawn dialect. */
  readonly plain?: boolean;
  /** Rows per second; default drawn. */
  readonly rate?: number;
}
export interface DrawnDrive {
  readonly seed: number;
  readonly kind: DriveKind;
  readonly spec: DriveSpec;
  readonly record: RecordSpec;
  readonly dialect: Dialect;
  /** Vehicle profile as YAML. */
  readonly profile: string;
  /** One a fault, in the order of the wish. */
  readonly expectations: readonly Expectation[];
}

/** Puts a drive together: car, weather, script, faults, decoys, logger and dialect, all from the seed. */
export function drawDrive(wish: DriveWish): DrawnDrive {
  const random = new Random(wish.seed, 21);
  const faulty = (wish.faults?.length ?? 0) > 0;
  const drawnKind = wish.kind ?? (faulty ? 'inspection' : random.pick(DRIVE_KINDS));
  const healthy = wish.kind === undefined && !faulty && (wish.decoys?.length ?? 0) === 0;
  const kind = healthy && new Random(wish.seed, 26).chance(THOROUGH) ? 'thorough' : drawnKind;
  // A decoy says nothing in a car that the rule does not ask about.
  const families = [...(wish.faults ?? []), ...(wish.decoys ?? [])].map(({ rule }) => familyOf(rule));
  const fitting = CARS.filter((c) => families.every((f) => f.suits?.(c) ?? true));
  const car = wish.car === undefined ? random.pick(fitting) : carById(wish.car);
  const draft: DriveDraft = {
    car,
    script: scriptOf(kind, car, random, new Random(wish.seed, 25).range(6, 10)),
    disturb: [],
    disturbances: [],
    tampered: [],
    ambient: ambientOf(kind, random),
    units: new Map(),
    kept: new Set(),
    profile: [],
    added: new Set(),
    dropped: new Set(),
    tuned: new Map(),
  };
  // Every car carries small errors of its own, well inside the limits.
  const both = random.range(-0.02, 0.02);
  const own = [1 + both + random.range(-0.008, 0.008), 1 + both + random.range(-0.008, 0.008)] as const;
  const rate = random.range(0, 0.15);
  const fill = new Random(wish.seed, 24).range(0.2, 1.3);
  draft.disturb.push((plant) => {
    plant.memory = drawMemory(new Random(wish.seed, 31));
    plant.fuelFactor = [own[0], own[1]];
    plant.knockRate = rate;
    plant.oilFill = fill;
  });
  if (kind === 'thorough') thorough(draft, new Random(wish.seed, 27));
  // Some people let the recording run until they have switched off.
  if (!faulty && (wish.decoys?.length ?? 0) === 0 && new Random(wish.seed, 23).chance(0.4))
    draft.script.push({ kind: 'keyOff', duration: 12 });
  const expectations: Expectation[] = [];
  for (const f of wish.faults ?? []) {
    expectations.push(familyOf(f.rule).apply(draft, f.level, f.dial ?? random.next(), random));
  }
  for (const d of wish.decoys ?? []) {
    const { decoys } = familyOf(d.rule);
    const decoy = decoys[d.name];
    if (!decoy) throw new Error(`decoy '${d.name}' of '${d.rule}': expected one of ${Object.keys(decoys).join(', ')}`);
    decoy(draft, random);
  }
  const drawn = random.pick([5, 10, 10, 10, 20]);
  const rows = wish.rate ?? draft.rate ?? drawn;
  const plainReader = !faulty && (wish.decoys?.length ?? 0) === 0 && random.chance(0.25);
  const service = plainReader && kind !== 'thorough';
  const channels = service
    ? serviceSet(car, random.pick([1, 2, 4]))
    : thinned(fullSet(draft.car), faulty, random, draft.kept)
        .filter((c) => !draft.dropped.has(c.id.split('.')[0]!))
        .map((c) => ({ ...c, ...draft.tuned.get(c.id.split('.')[0]!) }));
  // Every other logger of more than the plain service reads what the engine control unit knows of each cylinder.
  if (!service && new Random(wish.seed, 22).chance(0.5)) for (const id of cylinderSet(draft.car)) draft.added.add(id);
  if (!service && new Random(wish.seed, 24).chance(0.4))
    for (const id of fuelSet()) if (!draft.dropped.has(id)) draft.added.add(id);
  channels.push(...[...draft.added].map((id) => ({ id, ...draft.tuned.get(id.split('.')[0]!) })));
  const ids = channels.map((c) => c.id);
  return {
    seed: wish.seed,
    kind,
    spec: {
      seed: wish.seed,
      car: draft.car,
      script: draft.script,
      ambient: draft.ambient,
      disturb: (plant) => {
        for (const change of draft.disturb) change(plant);
      },
      signalRate: rows > 25 ? 100 : 50,
    },
    record: {
      seed: wish.seed,
      rate: rows,
      channels,
      disturbances: draft.disturbances,
      tampered: draft.tampered,
      jitter: random.chance(0.3) ? random.range(0.01, 0.1) : 0,
      lostRows: random.chance(0.2) ? random.range(0.0005, 0.01) : 0,
    },
    dialect: wish.plain ? { ...PLAIN, units: draft.units } : drawDialect(random, ids, draft.units),
    profile: profileOf(draft.listed ?? draft.car, draft.claims) + draft.profile.map((line) => `${line}\n`).join(''),
    expectations,
  };
}

function familyOf(rule: string): FaultFamily {
  const family = FAULTS.find((x) => x.rule === rule);
  if (!family) throw new Error(`rule '${rule}': faults exist for ${FAULTS.map((x) => x.rule).join(', ')}`);
  return family;
}

/** Loggers leave channels out and refresh some of them slowly; a fault drive keeps what its rules need. */
function thinned(list: ChannelSetting[], faulty: boolean, random: Random, kept: ReadonlySet<string>): ChannelSetting[] {
  const spare = [
    'steeringAngle',
    ...OFTEN_LEFT_OUT,
    ...(faulty ? [] : ['inputShaftSpeed', 'outputShaftSpeed', 'transmissionOilPressure', 'couplingDuty']),
  ];
  const dropped = new Set(spare.filter((id) => random.chance(faulty ? 0.15 : 0.25) && !kept.has(id)));
  if (faulty) dropped.delete('engineOilPressure');
  return list.filter((c) => !dropped.has(c.id.split('.')[0]!));
}

function ambientOf(kind: DriveKind, random: Random): DriveDraft['ambient'] {
  const temperature =
    kind === 'hotDay' ? random.range(31, 40) : kind === 'winter' ? random.range(-15, 2) : random.range(4, 28);
  const altitude = kind === 'mountain' ? random.range(700, 1900) : random.range(0, 600);
  const wind = random.range(-4, 4);
  if (kind === 'mountain')
    return { temperature, altitude, wind, hills: { height: random.range(60, 160), length: random.range(2500, 6000) } };
  if (random.chance(0.5))
    return { temperature, altitude, wind, hills: { height: random.range(2, 20), length: random.range(800, 3000) } };
  return { temperature, altitude, wind };
}

function scriptOf(kind: DriveKind, car: CarSpec, random: Random, lateral: number): Phase[] {
  const manual = car.transmission.kind === 'manual';
  const gear = car.transmission.gears.length > 6 ? 4 : 3;
  const top = car.engine.revLimit - random.range(500, 900);
  const strength = Math.min(2.2, Math.max(0.9, (9 * car.engine.ratedPower) / car.body.mass));
  const cold: Phase[] = random.chance(0.6)
    ? [{ kind: 'coldStart', keyOn: random.range(1, 4), duration: random.range(15, 40) }]
    : [{ kind: 'idle', duration: random.range(10, 40) }];
  const select: Phase[] = manual ? [] : [{ kind: 'selectorExercise', repeats: 3, hold: random.range(3, 5) }];
  const town = (seconds: number): Phase => ({ kind: 'town', duration: seconds, limit: random.range(40, 60) });
  const pull = (): Phase => ({ kind: 'pull', gear, fromRpm: random.range(1900, 2500), toRpm: top });
  const load = (n: number): Phase => ({
    kind: 'rollingAcceleration',
    from: 65,
    to: 125,
    acceleration: strength,
    repeats: n,
  });
  const lug: Phase = { kind: 'lug', gear: gear + 2, fromRpm: random.range(1050, 1200), toRpm: 1700 };
  const end: Phase[] = [
    { kind: 'hotIdle', duration: random.range(40, 70), selector: random.pick(['P', 'N', 'D'] as const) },
  ];
  switch (kind) {
    case 'thorough':
      return [];
    case 'inspection':
      return [
        ...cold,
        ...select,
        town(random.range(90, 150)),
        { kind: 'gentleGears', to: 110 },
        { kind: 'motorway', speed: random.range(95, 125), duration: random.range(200, 280) },
        lug,
        load(4),
        pull(),
        pull(),
        pull(),
        { kind: 'cruise', speed: 80, duration: 40 },
        { kind: 'fullLock', duration: 22 },
        ...end,
      ];
    case 'commute':
      return [
        ...cold,
        town(200),
        lug,
        { kind: 'motorway', speed: random.range(100, 130), duration: 240 },
        town(150),
        ...end,
      ];
    case 'mountain':
      return [
        ...cold,
        town(80),
        { kind: 'cruise', speed: 70, duration: 150, grade: random.range(0.03, 0.07) },
        lug,
        load(2),
        { kind: 'cruise', speed: 60, duration: 150, grade: -random.range(0.02, 0.06) },
        pull(),
        ...end,
      ];
    case 'town':
      return [...cold, ...select, town(random.range(400, 600)), ...end];
    case 'circuit':
      return [
        ...cold,
        { kind: 'motorway', speed: 100, duration: 260 },
        {
          kind: 'circuit',
          duration: random.range(120, 220),
          top: random.range(150, 190),
          corner: random.range(65, 85),
          lateral,
        },
        { kind: 'cruise', speed: 80, duration: 90 },
        ...end,
      ];
    case 'motorway':
      return [
        ...cold,
        town(60),
        { kind: 'motorway', speed: random.range(110, 150), duration: random.range(400, 600) },
        load(2),
        ...end,
      ];
    case 'hotDay':
      return [...cold, town(150), { kind: 'motorway', speed: 120, duration: 150 }, pull(), pull(), town(80), ...end];
    case 'winter':
      return [
        { kind: 'coldStart', duration: 60 },
        ...select,
        town(300),
        { kind: 'motorway', speed: 100, duration: 240 },
        ...end,
      ];
    case 'short':
      return [
        ...cold,
        town(random.range(90, 180)),
        { kind: 'cruise', speed: random.range(45, 70), duration: 40 },
        { kind: 'idle', duration: 20 },
      ];
  }
}
