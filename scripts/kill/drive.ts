import type { StoredDrive } from '../../packages/cli/src/book/book.js';

/** Drive number n with as many measures as a real one; whole is what is equal to it. The hash tells n. */
export function killDrive(n: number): StoredDrive {
  return {
    hash: n.toString(16).padStart(64, '0'),
    car: `car ${n % 7}`,
    recordedAt: `20${String(10 + (n % 60)).padStart(2, '0')}-05-17T08:00:00`,
    distance: 1000 * n + 0.5,
    engineHours: null,
    measures: Array.from({ length: 30 }, (_, k) => ({
      id: `measure.${String(k).padStart(2, '0')}`,
      value: n + k / 7,
      standardError: k % 3 === 0 ? null : 0.1 + k,
      samples: k,
      unit: '1',
    })),
    covariates: { ambientTemperature: n % 30, load: 0.3, altitude: null, fuel: null },
    summary: { level: 'sound', coverage: 0.8, index: { low: 80, high: 100 }, findings: [], unproven: [`rule.${n}`] },
    provenance: { file: `${n}.csv`, version: '0.0.0', addedAt: '2026-01-01T00:00:00' },
  };
}

export function numberOf(hash: string): number {
  return Number.parseInt(hash, 16);
}
