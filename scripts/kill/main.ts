// Kills writers of the logbook at random moments, and looks whether anything was lost.
// Usage: node scripts/run.mjs scripts/kill/main.ts [--kills N] [--seed S] [--store sqlite|postgres|both]
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { parseArgs } from 'node:util';
import { noServer, startServer } from '../../packages/cli/test/book/server.js';
import { bundledWriter, checkout } from './bundle.js';
import { seeded } from './random.js';
import { killTrial, type Trial } from './trial.js';

/** Kills on one book: each look reads all of it, so that one that grew without end would be looked at for hours. */
const ROUND = 20;

const { values } = parseArgs({
  options: {
    kills: { type: 'string', default: '200' },
    seed: { type: 'string', default: '1' },
    store: { type: 'string', default: 'both' },
  },
});
const [kills, seed] = [Number(values.kills), Number(values.seed)];
if (!Number.isInteger(kills) || kills < 1 || !Number.isInteger(seed)) throw new Error('expected --kills N --seed S');

const folder = mkdtempSync(join(tmpdir(), 'telltale-kill-'));
const script = await bundledWriter(checkout(import.meta.url));
try {
  if (values.store !== 'postgres') await report('SQLite', (round) => ({ book: join(folder, `book-${round}.sqlite`) }));
  if (values.store !== 'sqlite') {
    const reason = noServer();
    if (reason !== undefined) console.log(`PostgreSQL: not tried, ${reason}`);
    else {
      const server = await startServer();
      // Whoever ends this run ends its server too.
      for (const signal of ['SIGINT', 'SIGTERM'] as const)
        process.once(signal, () => {
          server.stop();
          rmSync(folder, { recursive: true, force: true });
          process.exit(130);
        });
      try {
        await report(server.version, (round) => {
          server.create(`killed-${round}`);
          return { book: server.url(`killed-${round}`), breakServer: () => server.breakOff() };
        });
      } finally {
        server.stop();
      }
    }
  }
} finally {
  rmSync(folder, { recursive: true, force: true });
  rmSync(script, { force: true });
}

async function report(name: string, where: (round: number) => Pick<Trial, 'book' | 'breakServer'>): Promise<void> {
  const random = seeded(seed);
  const sum = { kills: 0, midWrite: 0, named: 0, kept: 0 };
  const faults: string[] = [];
  for (let round = 0; sum.kills < kills && faults.length < 10; round++) {
    const result = await killTrial({
      ...where(round),
      kills: Math.min(ROUND, kills - sum.kills),
      random,
      writer: [process.execPath, script],
    });
    for (const key of ['kills', 'midWrite', 'named', 'kept'] as const) sum[key] += result[key];
    faults.push(...result.faults.map((fault) => `book ${round}, ${fault}`));
    console.error(`${name}: ${sum.kills} kills, ${sum.kept} drives kept`);
  }
  console.log(
    `${name}: ${sum.kills} kills (${sum.midWrite} while drives were being written), ${sum.named} drives named as kept, ${sum.kept} in the books, ${faults.length} faults`,
  );
  for (const fault of faults) console.log(`  ${fault}`);
  if (faults.length > 0) process.exitCode = 1;
}
