import { createHash } from 'node:crypto';
import type { StoredDrive } from '../../src/book/book.js';

export const hashed = (text: string): string => createHash('sha256').update(text).digest('hex');

/** A drive as a book keeps it, different in every number for each `n`. */
export function drive(n: number, car = 'saloon', more: Partial<StoredDrive> = {}): StoredDrive {
  const month = String((n % 12) + 1).padStart(2, '0');
  return {
    hash: hashed(`${car} ${n}`),
    car,
    recordedAt: `${2020 + Math.floor(n / 12)}-${month}-03T10:00:0${n % 10}`,
    distance: 40_000 + n * 1000.5,
    engineHours: n % 2 === 0 ? 800 + n : null,
    measures: [
      { id: 'engine.idle.swing', value: 3.7 + n / 1000, standardError: null, samples: null, unit: 'rpm' },
      { id: 'fuel.trim.idle.bank1', value: n / 3, standardError: 0.1 + n / 7, samples: 12.5, unit: '%' },
    ],
    covariates: { ambientTemperature: -3.25 + n, load: 1 / 3, altitude: null, fuel: 0.1 },
    summary: {
      level: 'watch',
      coverage: 2 / 3,
      index: { low: 40, high: 81.5 },
      findings: [
        { rule: 'fuel.trim', severity: 'watch', summary: 'Idle trim, “lean”: 11 % — look; \'quoted\' "twice"' },
      ],
      unproven: ['engine.knock', 'engine.misfire'],
    },
    provenance: { file: `März ${n}.csv`, version: '0.1.0', addedAt: '2026-03-01T12:00:00' },
    ...more,
  };
}
