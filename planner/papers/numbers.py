"""Stop numbers as people say them."""


def stop_numbers(numbers: list[int]) -> str:
    """Stop numbers for people, runs drawn together: `1-4, 6, 9`; 'none' when there are none."""
    runs: list[list[int]] = []
    for number in sorted(set(numbers)):
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    texts = [f"{run[0]}–{run[-1]}" if len(run) > 1 else f"{run[0]}" for run in runs]
    return ", ".join(texts) or "none"
