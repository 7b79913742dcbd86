const SIGNS: Readonly<Record<string, string>> = { degC: '°C', deg: '°', '1': '', 'm/s2': 'm/s²', 'N.m': 'N·m' };

/** Unit as people write it; '' for a ratio. */
export function signOf(unit: string): string {
  return SIGNS[unit] ?? unit;
}

/** Two significant digits, no exponent. */
export function number(value: number): string {
  if (!Number.isFinite(value)) return 'not known';
  const rounded = Number(value.toPrecision(2));
  return String(Math.abs(rounded) < 1e-6 ? 0 : rounded);
}
