/** What went wrong, in the words of whoever threw it. */
export const reasonOf = (problem: unknown): string => (problem instanceof Error ? problem.message : String(problem));
