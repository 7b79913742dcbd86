/** A tyre as named on its sidewall and what follows from the name. */
export interface Tyre {
  /** mm */
  readonly width: number;
  /** Height over width, %. */
  readonly aspect: number;
  /** inch */
  readonly rim: number;
  /** Outer diameter by the name, mm: rim x 25.4 + 2 x width x aspect / 100 (ISO 4000-1 design diameter, unrounded). */
  readonly diameter: number;
  /** m rolled per turn: 3.05 times the design diameter in whole mm (ETRTO practice for radial tyres). */
  readonly circumference: number;
}

/** Rolling circumference over design diameter: pi less the flattening of a radial tyre (ETRTO, as tabulated in handbooks). */
const ROLLING = 3.05;
/** Standard uncertainty of the rolling circumference as a share: make, load, pressure, wear of up to 6 mm. From memory. */
export const CIRCUMFERENCE_U = 0.012;

/** Reads a size such as 245/40R19, 245/40 ZR 19; undefined when it is none. */
export function parseTyre(size: string): Tyre | undefined {
  const match = /^\s*(\d{3})\s*\/\s*(\d{2})\s*Z?R?\s*(\d{2})\b/i.exec(size);
  if (match === null) return undefined;
  const [width, aspect, rim] = [Number(match[1]), Number(match[2]), Number(match[3])];
  const diameter = rim * 25.4 + (2 * width * aspect) / 100;
  return { width, aspect, rim, diameter, circumference: (ROLLING * Math.round(diameter)) / 1000 };
}

/**
 * Overall ratio (rpm per km/h) of a gear: gear x final drive x 1000 / (60 x circumference).
 * @param circumference m per turn of the wheel
 */
export function overallRatio(gear: number, finalDrive: number, circumference: number): number {
  return (gear * finalDrive * 1000) / (60 * circumference);
}
