import { counted, figure, listed } from '../wording.js';

/** Where the misfires fell. */
export interface Pattern {
  /** Misfires by cylinder number; empty when not told apart. */
  readonly byCylinder: ReadonlyMap<number, number>;
  readonly total: number;
  /** Share of the misfires at idle and under load, over the share of the firings there; NaN = not known. */
  readonly idle: number;
  readonly load: number;
}

/** Cylinders that carry more than their share: twice the even share, and a tenth of all. */
export function leading({ byCylinder, total }: Pattern): number[] {
  const even = total / Math.max(1, byCylinder.size);
  return [...byCylinder]
    .filter(([, count]) => byCylinder.size > 1 && count >= Math.max(1.8 * even, 0.1 * total))
    .map(([cylinder]) => cylinder)
    .sort((a, b) => a - b);
}

export function whereOf(pattern: Pattern): string {
  const cylinders = leading(pattern);
  const parts = [
    ...(cylinders.length > 0 ? [`cylinder ${listed(cylinders.map(String))}`] : []),
    ...(pattern.idle >= 2 ? ['mostly at idle'] : pattern.load >= 2 ? ['mostly under load'] : []),
  ];
  return parts.length === 0 ? 'spread over the cylinders' : parts.join(', ');
}

/** Likely first. */
export function causesOf(pattern: Pattern): string[] {
  const cylinders = leading(pattern);
  const one = cylinders.length === 1;
  const names = listed(cylinders.map(String));
  const ignition = one
    ? `ignition coil or spark plug of cylinder ${names}`
    : 'worn spark plugs, gap too wide for the boost';
  const fuel = one ? `injector of cylinder ${names}` : 'fuel supply: pressure falls under load, or poor fuel';
  const tight = one
    ? `compression of cylinder ${names}: valve, ring, head gasket`
    : 'compression or valve timing of all cylinders';
  const air = 'air drawn past the meter (intake gasket, crankcase ventilation hose), felt at idle first';
  if (pattern.idle >= 2) return one ? [ignition, fuel, tight, air] : [air, 'dirty injectors', ignition, tight];
  if (cylinders.length === 2)
    return [
      `what cylinders ${names} share: a coil pair, a head gasket between neighbours, an intake runner`,
      ignition,
      fuel,
    ];
  if (pattern.load >= 2) return [ignition, fuel, 'mixture too lean under load', tight];
  return one ? [ignition, fuel, tight] : [ignition, fuel, air, tight];
}

export function adviceOf(pattern: Pattern, stop: boolean): string[] {
  const cylinders = leading(pattern);
  const one = cylinders.length === 1;
  return [
    ...(stop
      ? ['Do not drive on with it: unburnt fuel burns in the catalyst and can set it and what is near it on fire.']
      : []),
    'Read the stored codes and freeze frames first; they name the cylinder and the moment.',
    one
      ? `Swap the coil of cylinder ${cylinders[0]} with a neighbour's (engine off, ignition off) and drive again: does the misfire move along? Then the same with the plug.`
      : 'Look at the plugs: gap, colour, heat range; fit new ones of the prescribed type before anything dear.',
    'If it stays: compression or leak-down test, then injector flow; at idle a smoke test of the intake.',
    ...(stop ? ['Have the catalyst looked at afterwards: it has been hot.'] : []),
  ];
}

export function leftNote(left: readonly string[]): string[] {
  return left.length === 0 ? [] : [`Left out, because not every cylinder is meant to fire there: ${listed(left)}.`];
}

export function rateText(rate: number, misfires: number): string {
  return `${figure(rate, 2)} % of the firings (${counted(misfires, 'misfire')})`;
}
