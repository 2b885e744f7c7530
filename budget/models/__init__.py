"""The budget: trades, line items, vendors, quotes, agreements, changes, invoices, and the ledger of movements.

Every amount is a whole number of minor units of the project's currency, unless the name says that it is in the
currency of a quote or an invoice (`_quoted_minor`). Rows that record a deed are append-only. The few figures kept
beside their sources for speed (`LineItem.likely_minor` and its neighbours, `QuoteLine.levelled_minor`,
`Invoice.paid_quoted_minor`) are written by the services alone and can be proved again at any time by
`manage.py reconcile`.
"""

from budget.models.agreements import (
    Agreement,
    AgreementGap,
    AgreementLine,
    AgreementReversal,
    Arrival,
    PaymentStage,
    RetentionRelease,
    RetentionStage,
)
from budget.models.changes import (
    Change,
    ChangeAttachment,
    ChangeStep,
)
from budget.models.invoices import (
    Invoice,
    InvoiceAttachment,
    InvoiceLine,
    InvoiceStep,
    Payment,
    Progress,
    VendorBank,
    VendorBankConfirmation,
)
from budget.models.ledger import (
    Cause,
    Movement,
    Transfer,
)
from budget.models.plan import (
    Estimate,
    ImportBatch,
    KnockOn,
    LineItem,
    LineState,
    OwnForecast,
    ScopeItem,
    SheetRow,
    Trade,
    Vendor,
)
from budget.models.quotes import (
    OriginalQuote,
    Quote,
    QuoteAttachment,
    QuoteExtra,
    QuoteItem,
    QuoteLine,
    QuoteRenewal,
)
from budget.models.reserve import (
    FundingReceipt,
    FundingSource,
    Risk,
)

__all__ = [
    "Agreement",
    "AgreementGap",
    "AgreementLine",
    "AgreementReversal",
    "Arrival",
    "Cause",
    "Change",
    "ChangeAttachment",
    "ChangeStep",
    "Estimate",
    "FundingReceipt",
    "FundingSource",
    "ImportBatch",
    "Invoice",
    "InvoiceAttachment",
    "InvoiceLine",
    "InvoiceStep",
    "KnockOn",
    "LineItem",
    "LineState",
    "Movement",
    "OriginalQuote",
    "OwnForecast",
    "Payment",
    "PaymentStage",
    "Progress",
    "Quote",
    "QuoteAttachment",
    "QuoteExtra",
    "QuoteItem",
    "QuoteLine",
    "QuoteRenewal",
    "RetentionRelease",
    "RetentionStage",
    "Risk",
    "ScopeItem",
    "SheetRow",
    "Trade",
    "Transfer",
    "Vendor",
    "VendorBank",
    "VendorBankConfirmation",
]
