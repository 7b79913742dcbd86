import * as z from 'zod';
import { ANY_QUANTITY, quantityIn } from '../sidefiles/quantity-schema.js';
import { readSideFile, type SideFile } from '../sidefiles/side-file.js';
import type { Fuel, Vehicle } from './vehicle.js';

/** Stable code of every fault in a vehicle profile. */
export const PROFILE_CODE = 'bad-profile';

const FUELS = ['petrol', 'E0', 'E5', 'E10', 'E20', 'E85', 'E100'] as const satisfies readonly Fuel[];

const TYRE = z
  .string()
  .regex(/^\d{3}\/\d{2} ?Z?R ?\d{2}$/, { error: 'expected a tyre size as on the sidewall, e.g. 245/40R19' });

/** Ranges are wide: they catch a slip of the unit, not an unusual car. */
const PROFILE = z.strictObject({
  schema: z.literal('telltale/vehicle@1', { error: 'expected schema: telltale/vehicle@1' }),
  id: z.string().min(1).max(80).default(''),
  engine: z
    .strictObject({
      displacement: quantityIn('L', '3.2 L', [0.3, 20]).optional(),
      cylinders: z.int().min(1).max(16).optional(),
      fuel: z.enum(FUELS).optional(),
      injection: z.enum(['port', 'direct', 'both']).optional(),
      revLimit: quantityIn('rpm', '7000 rpm', [1000, 15000]).optional(),
      ratedTorque: quantityIn('N.m', '610 N.m', [20, 5000]).optional(),
      oilPump: z.enum(['fixed', 'regulated']).optional(),
    })
    .default({}),
  transmission: z
    .strictObject({
      kind: z.enum(['dual-clutch', 'converter', 'manual']).optional(),
      fluidPlace: z.enum(['sump', 'clutch-outlet', 'cooler-inlet']).optional(),
      gears: z.array(z.number().positive().max(20)).min(1).max(12).optional(),
      finalDrive: z.number().positive().max(20).optional(),
    })
    .default({}),
  driveline: z
    .strictObject({
      driven: z.enum(['front', 'rear', 'all']).optional(),
      tyreFront: TYRE.optional(),
      tyreRear: TYRE.optional(),
    })
    .default({}),
  exhaust: z
    .strictObject({
      particulateFilter: z
        .strictObject({
          fitted: z
            .boolean({ error: 'expected true or false: has the car a particulate filter by design?' })
            .optional(),
          pressureDrop: quantityIn('kPa', '6 kPa', [0.2, 60]).optional(),
          flow: quantityIn('m3/h', '900 m3/h', [50, 10000]).optional(),
          temperature: quantityIn('degC', '600 degC', [200, 1000]).optional(),
        })
        .refine(({ pressureDrop, flow }) => (pressureDrop === undefined) === (flow === undefined), {
          error: 'expected pressureDrop and flow together: a pressure drop means something at a volume flow only',
        })
        .optional(),
    })
    .default({}),
  body: z
    .strictObject({
      mass: quantityIn('kg', '1760 kg', [200, 10000]).optional(),
      dragArea: quantityIn('m2', '0.66 m2', [0.1, 5]).optional(),
      rolling: z.number().positive().max(0.1).optional(),
    })
    .default({}),
  calibration: z
    .strictObject({
      identification: z.array(z.string().min(1).max(60)).max(40).optional(),
      verification: z.array(z.string().min(1).max(60)).max(40).optional(),
    })
    .default({}),
  limits: z.record(z.string(), z.record(z.string(), ANY_QUANTITY)).default({}),
  claims: z
    .looseObject({
      power: quantityIn('kW', '400 kW', [1, 3000]).optional(),
      injectors: quantityIn('cc/min', '550 cc/min', [50, 20000]).optional(),
      injectorPressure: quantityIn('kPa', '300 kPa', [100, 60000]).optional(),
      boost: quantityIn('kPa', '180 kPa', [10, 600]).optional(),
      distance: quantityIn('km', '84000 km', [0, 3_000_000]).optional(),
      launches: z.union([z.int().min(0), z.literal('never')]).optional(),
      tracked: z.enum(['never', 'sometimes', 'often']).optional(),
      codesCleared: z.enum(['never', 'once', 'often']).optional(),
      catalysts: z.enum(['original', 'fitted']).optional(),
      software: z.literal('original').optional(),
      coldStart: z.boolean().optional(),
    })
    .default({}),
});

/**
 * Reads a vehicle profile (YAML or JSON, schema `telltale/vehicle@1`).
 * @returns the car in the units of {@link Vehicle}, or every fault with its line and column.
 */
export function readProfile(text: string, name: string): SideFile<Vehicle> {
  return readSideFile(text, name, PROFILE_CODE, PROFILE) as SideFile<Vehicle>;
}

/** JSON Schema of what a user may write. */
export function profileSchema(): object {
  return z.toJSONSchema(PROFILE, { io: 'input' });
}
