/** An answer that is not the one asked for. `status` 0: the server could not be reached. */
export class Refused extends Error {
  constructor(
    readonly status: number,
    message: string,
    readonly problem: Record<string, unknown> = {},
  ) {
    super(message);
  }

  get isLost() {
    return this.status === 0;
  }
}

export const LOST = "The server does not answer";

async function ask(path: string, init?: RequestInit): Promise<Response> {
  let answer: Response;
  try {
    answer = await fetch(path, init);
  } catch {
    throw new Refused(0, LOST);
  }
  if (answer.ok) return answer;
  const problem = await readProblem(answer);
  const detail = typeof problem["detail"] === "string" ? problem["detail"] : answer.statusText;
  throw new Refused(answer.status, detail, problem);
}

async function readProblem(answer: Response): Promise<Record<string, unknown>> {
  try {
    return (await answer.json()) as Record<string, unknown>;
  } catch {
    return {};
  }
}

export const getJson = async <T>(path: string, signal?: AbortSignal) =>
  (await (await ask(path, signal ? { signal } : undefined)).json()) as T;

export const getBlob = async (path: string) => (await ask(path)).blob();
export const getBytes = async (path: string) => (await ask(path)).arrayBuffer();

const asJson = (body: unknown): RequestInit => ({
  method: "POST",
  headers: { "content-type": "application/json" },
  body: JSON.stringify(body),
});

export const postJson = async <T>(path: string, body: unknown) =>
  (await (await ask(path, asJson(body))).json()) as T;

export const postForBlob = async (path: string, body: unknown) =>
  (await ask(path, asJson(body))).blob();
