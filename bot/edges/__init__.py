"""The outside world: Telegram, a terminal, the clock. No decisions here."""
