import { UserError } from '../../exit-code.js';

/** better-sqlite3. @throws UserError `no-store` where it is not installed */
export async function library(): Promise<typeof import('better-sqlite3')> {
  try {
    return (await import('better-sqlite3')).default;
  } catch (error) {
    throw new UserError(
      'no-store',
      `the logbook needs the package better-sqlite3, which could not be loaded (${error instanceof Error ? error.message.split('\n')[0] : String(error)}); install it with: npm install better-sqlite3`,
    );
  }
}
