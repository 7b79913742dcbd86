import type { CarSpec } from './car.js';

/** The profile file (`telltale/vehicle@1`) of a simulated car. */
export function profileOf(car: CarSpec, claims: Readonly<Record<string, string | number>> = {}): string {
  const e = car.engine;
  const t = car.transmission;
  const lines = [
    'schema: telltale/vehicle@1',
    `id: ${car.id}`,
    `engine: { displacement: ${e.displacement} L, cylinders: ${e.cylinders}, fuel: ${e.fuel}, revLimit: ${e.revLimit} rpm, ratedTorque: ${e.ratedTorque} N.m }`,
    `transmission: { kind: ${t.kind}, ${t.kind === 'manual' ? '' : 'fluidPlace: sump, '}gears: [${t.gears.join(', ')}], finalDrive: ${t.finalDrive} }`,
    `driveline: { driven: ${car.driveline.driven}, tyreFront: ${car.driveline.tyreFront}, tyreRear: ${car.driveline.tyreRear} }`,
    `body: { mass: ${car.body.mass} kg, dragArea: ${car.body.dragArea} m2, rolling: ${car.body.rolling} }`,
  ];
  const entries = Object.entries(claims);
  if (entries.length > 0) lines.push(`claims: { ${entries.map(([k, v]) => `${k}: ${v}`).join(', ')} }`);
  return `${lines.join('\n')}\n`;
}
