/** What the user says about the car; everything optional, in the units named. Parsed from a profile by `profile.ts`. */
export interface Vehicle {
  /** The user's own label, never an identification number. */
  readonly id: string;
  readonly engine: {
    /** Litres. */
    readonly displacement?: number;
    readonly cylinders?: number;
    readonly fuel?: Fuel;
    /** Where the injectors sit; `both` = a port and a direct set. */
    readonly injection?: 'port' | 'direct' | 'both';
    /** rpm */
    readonly revLimit?: number;
    /** N.m at the crank. */
    readonly ratedTorque?: number;
    /** `fixed` = fixed displacement with a relief valve; `regulated` = variable or two-stage, makes less pressure on purpose. */
    readonly oilPump?: 'fixed' | 'regulated';
  };
  readonly transmission: {
    readonly kind?: TransmissionKind;
    readonly fluidPlace?: 'sump' | 'clutch-outlet' | 'cooler-inlet';
    /** Ratios of the forward gears, first gear first. */
    readonly gears?: readonly number[];
    readonly finalDrive?: number;
  };
  readonly driveline: {
    readonly driven?: 'front' | 'rear' | 'all';
    /** As on the sidewall, e.g. 245/40R19. */
    readonly tyreFront?: string;
    readonly tyreRear?: string;
  };
  readonly exhaust: {
    readonly particulateFilter?: {
      /** False = the car has none by design. */
      readonly fitted?: boolean;
      /** kPa that one clean, sound filter of this car takes at `flow`, hot. */
      readonly pressureDrop?: number;
      /** m3/h of hot exhaust gas through one filter, to which `pressureDrop` belongs; the two stand together. */
      readonly flow?: number;
      /** degC of that gas; 600 is taken when left out. */
      readonly temperature?: number;
    };
  };
  readonly body: {
    /** kg */
    readonly mass?: number;
    /** Drag coefficient times frontal area, m2. */
    readonly dragArea?: number;
    /** Rolling resistance coefficient, 1. */
    readonly rolling?: number;
  };
  /** Program that belongs in the car, as the service documents or an earlier read-out state it. */
  readonly calibration: {
    /** Identifications of the programs of all control units. */
    readonly identification?: readonly string[];
    /** Verification numbers that are computed over the programs. */
    readonly verification?: readonly string[];
  };
  /** Overridden limits: rule id -> limit name -> quantity. */
  readonly limits: Readonly<
    Record<string, Readonly<Record<string, { readonly value: number; readonly unit: string }>>>
  >;
  /** What the seller says; judged by `provenance.claims`. */
  readonly claims: {
    /** kW at the crank. */
    readonly power?: number;
    /** Static flow of one injector as named, cm3/min, at `injectorPressure`. */
    readonly injectors?: number;
    /** kPa; where absent 300 for port, 10 000 for direct injection. */
    readonly injectorPressure?: number;
    /** kPa over the barometer, held at full load. */
    readonly boost?: number;
    /** km on the instrument. */
    readonly distance?: number;
    readonly launches?: number | 'never';
    /** Driven on a circuit. */
    readonly tracked?: 'never' | 'sometimes' | 'often';
    readonly codesCleared?: 'never' | 'once' | 'often';
    readonly catalysts?: 'original' | 'fitted';
    readonly software?: 'original';
    /** The car is presented cold. */
    readonly coldStart?: boolean;
    readonly [claim: string]: unknown;
  };
}

export type TransmissionKind = 'dual-clutch' | 'converter' | 'manual';

/** Petrol named by its ethanol content in percent by volume; `petrol` = content unknown. */
export type Fuel = 'petrol' | 'E0' | 'E5' | 'E10' | 'E20' | 'E85' | 'E100';

/** A car of which nothing is known. */
export const UNKNOWN_VEHICLE: Vehicle = Object.freeze({
  id: '',
  engine: {},
  transmission: {},
  driveline: {},
  exhaust: {},
  body: {},
  calibration: {},
  limits: {},
  claims: {},
});
