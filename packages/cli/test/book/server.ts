import { execFileSync, spawnSync } from 'node:child_process';
import { chmodSync, existsSync, mkdtempSync, readdirSync, rmSync } from 'node:fs';
import { createServer } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';

/** A PostgreSQL server of our own in a temporary folder. */
export interface Server {
  /** URL of a database, as the owner of the server. */
  url(database: string, role?: string): string;
  /** Makes an empty database. */
  create(database: string): void;
  /** Runs statements as the owner of the server. */
  sql(database: string, text: string): string;
  stop(): void;
  /** Ends the server as a loss of power would, without writing anything more, and starts it again. */
  breakOff(): void;
  readonly version: string;
}

/** Folder of the server's programs: on the path, or where Debian's packages put them; undefined when there are none. */
function serverPrograms(): string | undefined {
  const named = process.env.TELLTALE_POSTGRES_BIN;
  if (named !== undefined && existsSync(join(named, 'initdb'))) return named;
  const base = '/usr/lib/postgresql';
  const versions = existsSync(base) ? readdirSync(base).sort((a, b) => Number(b) - Number(a)) : [];
  for (const version of versions)
    if (existsSync(join(base, version, 'bin', 'initdb'))) return join(base, version, 'bin');
  const found = spawnSync('sh', ['-c', 'command -v initdb'], { encoding: 'utf8' });
  return found.status === 0 ? join(found.stdout.trim(), '..') : undefined;
}

/** Why there is no server to test against, for the message of a skipped test; undefined when there is one. */
export function noServer(): string | undefined {
  if (process.platform === 'win32') return 'the tests start a server on Linux and macOS only';
  if (serverPrograms() === undefined)
    return 'no PostgreSQL server on this machine (Debian: apt-get install postgresql)';
  if (isRoot() && spawnSync('id', ['postgres']).status !== 0)
    return 'the server refuses to run as root, and there is no user postgres';
  return undefined;
}

const isRoot = (): boolean => process.getuid?.() === 0;

async function freePort(): Promise<number> {
  return new Promise((resolve, reject) => {
    const probe = createServer();
    probe.once('error', reject);
    probe.listen(0, '127.0.0.1', () => {
      const { port } = probe.address() as { port: number };
      probe.close(() => resolve(port));
    });
  });
}

/** initdb refuses root: then everything of the server runs as the user postgres. */
export async function startServer(): Promise<Server> {
  const programs = serverPrograms()!;
  const folder = mkdtempSync(join(tmpdir(), 'telltale-server-'));
  chmodSync(folder, 0o755);
  const data = join(folder, 'data');
  const port = await freePort();
  const own = (program: string, ...args: string[]): string => {
    const command = join(programs, program);
    const [file, all] = isRoot() ? ['runuser', ['-u', 'postgres', '--', command, ...args]] : [command, args];
    return execFileSync(file, all, { encoding: 'utf8', cwd: folder, stdio: ['ignore', 'pipe', 'pipe'] });
  };
  if (isRoot()) execFileSync('chown', ['postgres', folder]);
  own('initdb', '-D', data, '-U', 'owner', '-A', 'trust', '-E', 'UTF8', '--no-locale', '--no-sync');
  const settings = `-p ${port} -c listen_addresses=127.0.0.1 -c unix_socket_directories=${folder} -c max_connections=60`;
  const start = (): void =>
    void own('pg_ctl', '-D', data, '-l', join(folder, 'log'), '-w', '-t', '60', '-o', settings, 'start');
  start();
  const sql = (database: string, text: string): string =>
    own('psql', '-h', '127.0.0.1', '-p', String(port), '-U', 'owner', '-v', 'ON_ERROR_STOP=1', '-qAtc', text, database);
  return {
    url: (database, role = 'owner') => `postgres://${role}@127.0.0.1:${port}/${database}`,
    create: (database) => void sql('postgres', `CREATE DATABASE "${database}" TEMPLATE template0`),
    sql,
    stop: () => {
      spawnSync(isRoot() ? 'runuser' : join(programs, 'pg_ctl'), [
        ...(isRoot() ? ['-u', 'postgres', '--', join(programs, 'pg_ctl')] : []),
        ...['-D', data, '-m', 'immediate', '-w', 'stop'],
      ]);
      rmSync(folder, { recursive: true, force: true });
    },
    breakOff: () => {
      own('pg_ctl', '-D', data, '-m', 'immediate', '-w', 'stop');
      start();
    },
    version: own('postgres', '--version').trim(),
  };
}
