import { figure, listed, signed } from '../wording.js';
import type { SignName } from './cylinder-balance-reading.js';

const TEXT: Readonly<Record<SignName, (value: number) => string>> = {
  correction: (x) => `${signed(x)} % of fuel correction`,
  exhaust: (x) => `exhaust ${figure(Math.abs(x), 0)} K ${x > 0 ? 'hotter' : 'colder'}`,
  roughness: (x) => `rougher or smoother by ${figure(Math.abs(x), 2)} (own scale)`,
  knock: (x) => `${signed(x)}° of knock retard`,
  misfire: (x) => `${signed(x, 2)} % of its firings missed`,
};

export function signText(name: SignName, value: number): string {
  return TEXT[name](value);
}

/** `1, 2 and 3`, for cylinders and groups. */
export function numbered(cylinders: readonly number[]): string {
  return `${cylinders.length === 1 ? 'cylinder' : 'cylinders'} ${listed(cylinders.map(String))}`;
}

/** Likely first, by which way the cylinder stands apart. */
export function causesOf(values: ReadonlyMap<SignName, number>, group: boolean): string[] {
  if (group)
    return [
      'something that a whole bank shares: lambda sensor, exhaust leak, turbocharger or intake of one side',
      'timing of the camshafts of one bank',
      'sensors of one bank mixed up or of another kind',
    ];
  const correction = values.get('correction') ?? 0;
  const exhaust = values.get('exhaust') ?? 0;
  const injectorLow = 'injector that gives too little: dirty, worn, or of another flow than the others';
  const injectorHigh = 'injector that gives too much or drips';
  const tight = 'compression: valve, ring or head gasket';
  const air = 'air or exhaust gas that only this cylinder gets: intake runner, gasket, manifold leak';
  const spark = 'weak spark: plug or coil (unburnt mixture is cold in the head and burns later in the exhaust)';
  if (correction > 0) return [injectorLow, air, ...(exhaust < 0 ? [spark, tight] : [tight, spark])];
  if (correction < 0) return [injectorHigh, tight, spark];
  if (exhaust > 0) return [injectorLow, spark, air, 'exhaust valve that leaks'];
  return [spark, tight, injectorHigh, 'sensor of another kind or place'];
}

export function adviceOf(cylinders: readonly number[], group: boolean, stop: boolean): string[] {
  const first = figure(cylinders[0] ?? Number.NaN, 0);
  return [
    ...(stop ? ['No full load until it is settled: a cylinder that runs lean melts its piston.'] : []),
    'Make sure how the control unit counts its cylinders: by place, or by firing order, and from which end.',
    ...(group
      ? ['Compare the lambda and trim of both banks; look for an exhaust leak before the sensor.']
      : [
          `Engine and ignition off: swap the coil and plug of cylinder ${first} with a neighbour's; does it move along?`,
          `Compression and leak-down test of cylinder ${first} and one other.`,
          'Then swap or flow-test its injector. High-pressure fuel: let a qualified person take the pressure off first.',
        ]),
  ];
}
